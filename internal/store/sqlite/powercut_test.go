package sqlite

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"recoat/internal/powercut"
	"recoat/sensors"
)

// childBounded makes the test binary a child that writes for a while, closes
// the file, opens it and writes on.
const childBounded = "RECOAT_TEST_CHILD_BOUNDED"

// imagesVariable names the environment variable that says how many disks are
// looked at; the fault campaign asks for more.
const imagesVariable = "RECOAT_IMAGES"

func images(t *testing.T) int {
	if n, err := strconv.Atoi(os.Getenv(imagesVariable)); err == nil {
		return n
	}
	if testing.Short() {
		return 40
	}
	return 150
}

// writeBounded appends in steps of different sizes, corrects times, and says
// each round once it is acknowledged.
func writeBounded(path string) error {
	ctx := context.Background()
	n := 0
	for range 3 {
		s, err := Open(ctx, path)
		if err != nil {
			return err
		}
		for step := range 60 {
			var rounds []sensors.Round
			for range 1 + step%7*step%30 {
				rounds = append(rounds, written("bench", "boot", n), written("door", "boot", n))
				n++
			}
			if err := s.Append(ctx, "attic", rounds); err != nil {
				return err
			}
			var said strings.Builder
			for _, r := range rounds {
				said.WriteString(label(r) + "\n")
			}
			fmt.Print(said.String())
		}
		if err := s.Close(); err != nil {
			return err
		}
	}
	return nil
}

// TestPowerCut looks at disks that a power cut may leave at any moment of a
// store's life: each opens, is sound, and holds all that was acknowledged.
func TestPowerCut(t *testing.T) {
	if !powercut.Available() {
		t.Skip("strace is not installed: writes cannot be recorded")
	}
	root := t.TempDir()
	child := exec.CommandContext(t.Context(), os.Args[0])
	child.Env = append(os.Environ(), childBounded+"="+filepath.Join(root, "readings.db"))
	recording, err := powercut.Record(child, root)
	if err != nil {
		t.Fatal(err)
	}
	g := randomly(t)
	acknowledgements, empty := 0, 0
	for range images(t) {
		folder := t.TempDir()
		moment := g.IntN(recording.Len())
		if err := recording.Image(g, moment, folder); err != nil {
			t.Fatal(err)
		}
		said := strings.Fields(strings.ReplaceAll(recording.Said(moment), " ", "_"))
		path := filepath.Join(folder, "readings.db")
		if _, err := os.Stat(path); errors.Is(err, os.ErrNotExist) && len(said) == 0 {
			empty++
			continue
		}
		held := verify(t, path)
		for _, l := range said {
			if held[strings.ReplaceAll(l, "_", " ")] != 1 {
				t.Fatalf("cut after call %d of %d: %s was acknowledged and is not there", moment, recording.Len(), l)
			}
		}
		acknowledgements += len(said)
	}
	t.Logf("%d calls with %d syncs; %d disks, %d of them from before the file, %d acknowledgements looked for",
		recording.Len()-1, recording.Syncs(), images(t), empty, acknowledgements)
}
