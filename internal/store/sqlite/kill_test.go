package sqlite

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/internal/store"
	"recoat/sensors"
)

// The variables that make the test binary a child that writes until killed.
const (
	childPath = "RECOAT_TEST_CHILD_PATH"
	childBoot = "RECOAT_TEST_CHILD_BOOT"
)

func TestMain(m *testing.M) {
	if path := os.Getenv(childPath); path != "" {
		fmt.Fprintln(os.Stderr, write(path, os.Getenv(childBoot)))
		os.Exit(1)
	}
	if path := os.Getenv(childBounded); path != "" {
		if err := writeBounded(path); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// write appends rounds of three nodes and says on standard output which have
// been acknowledged, one to a line. It returns only on an error.
func write(path, boot string) error {
	ctx := context.Background()
	s, err := Open(ctx, path)
	if err != nil {
		return err
	}
	var out sync.Mutex
	failed := make(chan error)
	for _, node := range []string{"bench", "door", "loft"} {
		go func() {
			for n := 0; ; n++ {
				r := written(node, boot, n)
				if err := s.Append(ctx, "attic", []sensors.Round{r}); err != nil {
					failed <- err
				}
				out.Lock()
				fmt.Println(label(r))
				out.Unlock()
			}
		}()
	}
	return <-failed
}

// written is the n-th round a child writes. Every fourth takes the place of
// the one before, with a time an hour later.
func written(node, boot string, n int) sensors.Round {
	r := nightRound(node, n)
	if n%4 == 3 {
		r = nightRound(node, n-1)
		r.Time = r.Time.Add(time.Hour)
	}
	r.Boot = boot
	return r
}

func label(r sensors.Round) string { return fmt.Sprintf("%s %s %d", r.Node, r.Boot, r.Seq) }

// writeAndKill runs a child for a random while after its first
// acknowledgement, kills it, and returns what it had acknowledged.
func writeAndKill(t *testing.T, g *rand.Rand, path, boot string) []string {
	t.Helper()
	child := exec.CommandContext(t.Context(), os.Args[0])
	child.Env = append(os.Environ(), childPath+"="+path, childBoot+"="+boot)
	child.Stderr = os.Stderr
	out, err := child.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := child.Start(); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewReader(out)
	var acknowledged []string
	for {
		line, err := lines.ReadString('\n')
		if errors.Is(err, io.EOF) {
			break // a line without its end was not yet said
		}
		if err != nil {
			t.Fatal(err)
		}
		if len(acknowledged) == 0 {
			time.AfterFunc(time.Duration(g.IntN(150_000))*time.Microsecond, func() { _ = child.Process.Kill() })
		}
		acknowledged = append(acknowledged, strings.TrimSuffix(line, "\n"))
	}
	if err := child.Wait(); err == nil {
		t.Fatal("the child ended by itself")
	}
	if len(acknowledged) == 0 {
		t.Fatal("the child acknowledged nothing")
	}
	return acknowledged
}

func randomly(t *testing.T) *rand.Rand {
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	return rand.New(rand.NewPCG(seed, 0))
}

func TestKilledAtAnyMoment(t *testing.T) {
	g := randomly(t)
	path := filepath.Join(t.TempDir(), "readings.db")
	var acknowledged []string
	for n := range 8 {
		acknowledged = append(acknowledged, writeAndKill(t, g, path, fmt.Sprintf("boot-%d", n))...)
		held := verify(t, path)
		for _, a := range acknowledged {
			if held[a] != 1 {
				t.Fatalf("%s was acknowledged and is there %d times", a, held[a])
			}
		}
	}
	t.Logf("%d acknowledgements", len(acknowledged))
}

// TestTornLog cuts the log that a killed writer left, as a power cut may: what
// is read back must be sound, and for each node a prefix of what it wrote.
func TestTornLog(t *testing.T) {
	g := randomly(t)
	path := filepath.Join(t.TempDir(), "readings.db")
	writeAndKill(t, g, path, "boot")
	main, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	log, err := os.ReadFile(path + "-wal")
	if err != nil {
		t.Fatal(err)
	}
	for range 12 {
		torn := filepath.Join(t.TempDir(), "readings.db")
		cut := log[:g.IntN(len(log)+1)]
		if err := errors.Join(os.WriteFile(torn, main, 0o600), os.WriteFile(torn+"-wal", cut, 0o600)); err != nil {
			t.Fatal(err)
		}
		held := verify(t, torn)
		for _, node := range []string{"bench", "door", "loft"} {
			checkPrefix(t, held, node)
		}
	}
}

// checkPrefix checks that as many rounds of a node as are held are its first.
func checkPrefix(t *testing.T, held map[string]int, node string) {
	t.Helper()
	left := 0
	for l := range held {
		if strings.HasPrefix(l, node+" ") {
			left++
		}
	}
	for n := 0; left > 0; n++ {
		if n%4 == 3 {
			continue // it took the place of the one before
		}
		if l := label(written(node, "boot", n)); held[l] != 1 {
			t.Fatalf("%d rounds after %s are there, and it is not", left, l)
		}
		left--
	}
}

// verify opens the file, checks it, compares its rollups and extents with those
// drawn up anew from its rounds, and counts the rounds.
func verify(t *testing.T, path string) map[string]int {
	t.Helper()
	s, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if err := s.Check(t.Context()); err != nil {
		t.Fatal(err)
	}
	held := map[string]int{}
	var rounds []sensors.Round
	from, to := dusk.AddDate(0, 0, -1), dusk.AddDate(0, 0, 1)
	err = s.Rounds(t.Context(), store.Query{Room: "attic", From: from, To: to}, func(r sensors.Round) error {
		held[label(r)]++
		rounds = append(rounds, r)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	twin := store.NewMemory()
	if err := twin.Append(t.Context(), "attic", rounds); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(summary(t, twin, from, to), summary(t, s, from, to)); diff != "" {
		t.Fatalf("rollups (-from the rounds +kept):\n%s", diff)
	}
	return held
}

func summary(t *testing.T, r store.Readings, from, to time.Time) map[store.Extent][][]store.Rollup {
	t.Helper()
	extents, err := r.Extents(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	all := map[store.Extent][][]store.Rollup{}
	for _, e := range extents {
		for _, width := range store.Widths() {
			rollups, err := r.Rollups(t.Context(), e.Series, width, from, to)
			if err != nil {
				t.Fatal(err)
			}
			all[e] = append(all[e], rollups)
		}
	}
	return all
}
