package sqldb

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestACopyHoldsWhatTheLogStillHeld(t *testing.T) {
	folder := t.TempDir()
	path, to := filepath.Join(folder, "shelf.db"), filepath.Join(folder, "copies", "with space.db")
	db := open(t, path, shelf)
	if _, err := db.Write.Exec(`INSERT INTO jar(ml) VALUES (750)`); err != nil {
		t.Fatal(err)
	}
	// The file stays open: its last commit is in the write-ahead log alone.
	if info, err := os.Stat(path + "-wal"); err != nil || info.Size() == 0 {
		t.Fatalf("no write-ahead log: %v", err)
	}
	if err := CopyTo(t.Context(), path, to); err != nil {
		t.Fatal(err)
	}
	label, err := Inspect(t.Context(), to)
	if want := (Label{shelf.ApplicationID, len(shelf.Migrations)}); err != nil || label != want {
		t.Fatalf("%+v, %v: want %+v", label, err, want)
	}
	var ml int
	if err := open(t, to, shelf).Read.QueryRow(`SELECT ml FROM jar`).Scan(&ml); err != nil || ml != 750 {
		t.Errorf("%d, %v", ml, err)
	}
	if info, err := os.Stat(to); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v, %v", info.Mode(), err)
	}
	if err := CopyTo(t.Context(), path, to); err == nil || !strings.Contains(err.Error(), "is there already") {
		t.Errorf("over an earlier copy: %v", err)
	}
}

func TestACopyThatFailsLeavesNothing(t *testing.T) {
	folder := t.TempDir()
	broken := filepath.Join(folder, "broken.db")
	if err := os.WriteFile(broken, []byte(strings.Repeat("not a database ", 300)), 0o600); err != nil {
		t.Fatal(err)
	}
	for name, from := range map[string]string{"broken": broken, "absent": filepath.Join(folder, "absent.db")} {
		to := filepath.Join(folder, "copies", name)
		if err := CopyTo(t.Context(), from, to); err == nil {
			t.Errorf("%s was copied", name)
		}
		if left, _ := filepath.Glob(to + "*"); len(left) != 0 {
			t.Errorf("%s left %v", name, left)
		}
	}
	if _, err := os.Stat(filepath.Join(folder, "absent.db")); !os.IsNotExist(err) {
		t.Errorf("a file was made by looking for it: %v", err)
	}
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	path := filepath.Join(folder, "shelf.db")
	open(t, path, shelf)
	if err := CopyTo(gone, path, filepath.Join(folder, "copies", "late")); err == nil {
		t.Error("copied after the end")
	}
}
