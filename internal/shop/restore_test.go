package shop

import (
	"bytes"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Whatever a file holds, a restore makes a journal that reads back as the same
// backup after one more round, or none at all.
func FuzzRestoreJournal(f *testing.F) {
	j, err := OpenJournal(f.Context(), filepath.Join(f.TempDir(), "journal.db"))
	if err != nil {
		f.Fatal(err)
	}
	if err := j.AddRoom(f.Context(), Room{ID: "attic", Title: "Attic"}, evening); err != nil {
		f.Fatal(err)
	}
	var whole bytes.Buffer
	if err := errors.Join(j.Backup(f.Context(), &whole), j.Close()); err != nil {
		f.Fatal(err)
	}
	f.Add(whole.Bytes())
	f.Add([]byte(strings.Replace(whole.String(), `"attic"`, `{"a":1}`, 1)))
	f.Add([]byte(strings.Replace(whole.String(), `"attic"`, `1e999`, 1)))
	f.Add([]byte(strings.Replace(whole.String(), `"rows":[`, `"rows":[[],`, 1)))
	f.Add([]byte(`{"format":"recoat journal","version":1,"tables":[]}`))
	f.Add([]byte(`{"format":"recoat journal","version":1,"tables":null} {}`))
	f.Add(whole.Bytes()[:whole.Len()/2])
	f.Fuzz(func(t *testing.T, text []byte) {
		path := filepath.Join(t.TempDir(), "journal.db")
		if err := RestoreJournal(t.Context(), path, bytes.NewReader(text)); err != nil {
			if left, _ := os.ReadDir(filepath.Dir(path)); len(left) > 0 {
				t.Fatalf("refused (%v), and %s was left", err, left[0].Name())
			}
			return
		}
		first := textOf(t, path)
		again := filepath.Join(t.TempDir(), "journal.db")
		if err := RestoreJournal(t.Context(), again, bytes.NewReader(first)); err != nil {
			t.Fatalf("its own backup is refused: %v", err)
		}
		if second := textOf(t, again); !bytes.Equal(first, second) || !json.Valid(first) {
			t.Fatalf("restored twice it gives another text:\n%s\n%s", first, second)
		}
	})
}

func textOf(t *testing.T, path string) []byte {
	t.Helper()
	j, err := OpenJournal(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := errors.Join(j.Backup(t.Context(), &b), j.Close()); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}
