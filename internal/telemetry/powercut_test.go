package telemetry

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"recoat/internal/powercut"
)

// childSpool makes the test binary a child that fills and empties a spool.
const childSpool = "RECOAT_TEST_CHILD_SPOOL"

// spoolBounded appends rounds, and lets go of most of them some time later, over
// two openings. It says "have N" once a round is durable, and "gone N" before
// the spool is told that the hub has it.
func spoolBounded(path string) error {
	ctx := context.Background()
	for start := uint64(1); start < 200; start += 100 {
		s, err := OpenSpool(ctx, SpoolConfig{Path: path, Node: "bench", Boot: bootA, MaxBytes: 1 << 20})
		if err != nil {
			return err
		}
		for seq := start; seq < start+100; seq++ {
			if err := s.Append(ctx, roundOf(bootA, seq)); err != nil {
				return err
			}
			fmt.Printf("have %d\n", seq)
			if seq%10 != 0 || seq < 20 {
				continue
			}
			fmt.Printf("gone %d\n", seq-10)
			if err := s.Settle(ctx, Receipt{Boot: bootA, ClockSet: true, Spans: []Span{{1, seq - 10}}}); err != nil {
				return err
			}
		}
		if err := s.Close(); err != nil {
			return err
		}
	}
	return nil
}

// TestPowerCutOfANode looks at disks that a power cut may leave of a spool: each
// opens, goes on counting, and holds every round the hub was not said to have,
// once and in order.
func TestPowerCutOfANode(t *testing.T) {
	if !powercut.Available() {
		t.Skip("strace is not installed: writes cannot be recorded")
	}
	root := t.TempDir()
	child := exec.CommandContext(t.Context(), os.Args[0])
	child.Env = append(os.Environ(), childSpool+"="+filepath.Join(root, "spool.db"))
	recording, err := powercut.Record(child, root)
	if err != nil {
		t.Fatal(err)
	}
	count := 100
	if n, err := strconv.Atoi(os.Getenv("RECOAT_IMAGES")); err == nil {
		count = n
	}
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	g := rand.New(rand.NewPCG(seed, 0))
	looked := 0
	for range count {
		folder, moment := t.TempDir(), g.IntN(recording.Len())
		if err := recording.Image(g, moment, folder); err != nil {
			t.Fatal(err)
		}
		have, gone := said(recording.Said(moment))
		path := filepath.Join(folder, "spool.db")
		if _, err := os.Stat(path); errors.Is(err, os.ErrNotExist) && have == 0 {
			continue
		}
		looked += checkSpool(t, path, have, gone)
	}
	t.Logf("%d calls with %d syncs; %d disks, %d rounds looked for", recording.Len()-1, recording.Syncs(), count, looked)
}

// said returns the last round that the child had, and the last one it was about
// to let go of.
func said(text string) (have, gone uint64) {
	for _, line := range strings.Split(text, "\n") {
		_, _ = fmt.Sscanf(line, "have %d", &have) // each line is one of the two, or empty
		_, _ = fmt.Sscanf(line, "gone %d", &gone)
	}
	return have, gone
}

func checkSpool(t *testing.T, path string, have, gone uint64) int {
	t.Helper()
	s := openSpool(t, path, bootA, 1<<20)
	var verdict string
	if err := s.db.Read.QueryRow(`PRAGMA integrity_check(1)`).Scan(&verdict); err != nil || verdict != "ok" {
		t.Fatalf("the spool is not sound: %q, %v", verdict, err)
	}
	if last, err := s.LastSeq(t.Context()); err != nil || last < have {
		t.Fatalf("it would count on from %d, and %d was used: %v", last, have, err)
	}
	left := pending(t, s)
	next := gone + 1
	for i, r := range left {
		if i > 0 && r.Seq != left[i-1].Seq+1 || r.Seq > have+1 {
			t.Fatalf("round %d after %d of %d", r.Seq, left[max(i, 1)-1].Seq, have)
		}
		if r.Seq == next {
			next++
		}
	}
	if next <= have {
		t.Fatalf("round %d was kept and not let go of, and is not there (%d to %d are to be)", next, gone+1, have)
	}
	if err := s.Append(t.Context(), roundOf(bootA, have+100)); err != nil {
		t.Fatal(err)
	}
	return int(have - gone)
}
