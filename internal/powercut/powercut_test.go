package powercut

import (
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

const childFolder = "RECOAT_TEST_POWERCUT"

// TestMain makes the binary a child that writes two files: one properly, one
// with the sync left out.
func TestMain(m *testing.M) {
	if folder := os.Getenv(childFolder); folder != "" {
		if err := careless(folder); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

func careless(folder string) error {
	for _, name := range []string{"proper", "hasty"} {
		f, err := os.Create(filepath.Join(folder, name+".new"))
		if err != nil {
			return err
		}
		if _, err := f.Write(make([]byte, 4*sector)); err != nil {
			return err
		}
		if _, err := f.WriteAt([]byte("done"), 3*sector); err != nil {
			return err
		}
		if name == "proper" {
			if err := f.Sync(); err != nil {
				return err
			}
		}
		if err := f.Close(); err != nil {
			return err
		}
		if err := os.Rename(f.Name(), filepath.Join(folder, name)); err != nil {
			return err
		}
		if name == "proper" {
			d, err := os.Open(folder)
			if err != nil {
				return err
			}
			if err := d.Sync(); err != nil {
				return err
			}
			_ = d.Close()
		}
		fmt.Println(name)
	}
	return nil
}

// The tool has to find what a program without syncs loses, and must not accuse
// one that does as it should.
func TestItTellsAProperProgramFromAHastyOne(t *testing.T) {
	if !Available() {
		t.Skip("strace is not installed: writes cannot be recorded")
	}
	root := t.TempDir()
	c := exec.CommandContext(t.Context(), os.Args[0])
	c.Env = append(os.Environ(), childFolder+"="+root)
	r, err := Record(c, root)
	if err != nil {
		t.Fatal(err)
	}
	if got := r.Said(r.Len() - 1); got != "proper\nhasty\n" || r.Syncs() != 2 {
		t.Fatalf("said %q, %d syncs", got, r.Syncs())
	}
	lost := map[string]int{}
	for n := range 200 {
		folder := t.TempDir()
		if err := r.Image(rand.New(rand.NewPCG(1, uint64(n))), r.Len()-1, folder); err != nil {
			t.Fatal(err)
		}
		for _, name := range []string{"proper", "hasty"} {
			content, err := os.ReadFile(filepath.Join(folder, name))
			if err != nil || len(content) != 4*sector || string(content[3*sector:3*sector+4]) != "done" {
				lost[name]++
			}
		}
	}
	if lost["proper"] != 0 || lost["hasty"] < 50 {
		t.Errorf("of 200 cuts lost: %v", lost)
	}
}
