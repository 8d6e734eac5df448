package shop

import (
	"bytes"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"recoat/internal/sqldb"
)

// backups are those of a small journal: whole, altered and cut short.
func backups(f *testing.F) (all [][]byte) {
	f.Helper()
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
	for _, replaced := range [][2]string{{"", ""}, {`"attic"`, `{"a":1}`}, {`"attic"`, `1e999`}, {`"rows":[`, `"rows":[[],`}, {`"Attic"`, `1.5`}, {`"attic"`, `"\ud800"`}} {
		all = append(all, []byte(strings.Replace(whole.String(), replaced[0], replaced[1], 1)))
	}
	return append(all, []byte(`{"format":"recoat journal","version":1,"tables":[]}`),
		[]byte(`{"format":"recoat journal","version":1,"tables":null} {}`), whole.Bytes()[:whole.Len()/2])
}

// Whatever a file holds, what is read of it fits the tables of its version and
// goes back into a file as it was.
func FuzzReadBackup(f *testing.F) {
	for _, text := range backups(f) {
		f.Add(text)
	}
	layouts := layoutsOf(f)
	f.Fuzz(func(t *testing.T, text []byte) {
		b, err := readBackup(bytes.NewReader(text))
		if err != nil || b.fit(layouts[b.Version]) != nil {
			return
		}
		again, err := json.Marshal(b)
		if err != nil {
			t.Fatalf("it fits, and cannot be written: %v", err)
		}
		back, err := readBackup(bytes.NewReader(again))
		if err != nil {
			t.Fatal(err)
		}
		if err := back.fit(layouts[b.Version]); err != nil {
			t.Fatalf("%s no longer fits: %v", again, err)
		}
		if third, err := json.Marshal(back); err != nil || !bytes.Equal(third, again) {
			t.Fatalf("%s came back as %s, %v", again, third, err)
		}
	})
}

// layoutsOf are the tables of every version, by its number.
func layoutsOf(f *testing.F) [][]table {
	f.Helper()
	all := make([][]table, len(schema.Migrations)+1)
	for version := 1; version < len(all); version++ {
		then := sqldb.Schema{ApplicationID: schema.ApplicationID, Migrations: schema.Migrations[:version]}
		db, err := sqldb.Open(f.Context(), filepath.Join(f.TempDir(), "journal.db"), then)
		if err != nil {
			f.Fatal(err)
		}
		all[version], err = layout(f.Context(), db.Read)
		if err := errors.Join(err, db.Close()); err != nil {
			f.Fatal(err)
		}
	}
	return all
}

// Whatever a file holds, a restore makes a journal that reads back as the same
// backup after one more round, or none at all. This one goes all the way to the
// disk; FuzzReadBackup is of what it decodes.
func FuzzRestoreJournal(f *testing.F) {
	for _, text := range backups(f) {
		f.Add(text)
	}
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
