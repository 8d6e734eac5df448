package upgrade

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"recoat/internal/sqldb"
)

const jars = 0x5e1f

// schema is that of a shelf of jars, as of a version.
func schema(version int) sqldb.Schema {
	all := []string{`CREATE TABLE jar(ml INTEGER NOT NULL)`}
	for i := range 9 {
		all = append(all, fmt.Sprintf(`ALTER TABLE jar ADD COLUMN note%d TEXT NOT NULL DEFAULT ''`, i))
	}
	return sqldb.Schema{ApplicationID: jars, Migrations: all[:version]}
}

// fill brings a file to a version with one more jar in it.
func fill(t *testing.T, path string, version int) {
	t.Helper()
	db, err := sqldb.Open(t.Context(), path, schema(version))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Write.Exec(`INSERT INTO jar(ml) VALUES (?)`, version*100); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
}

var noon = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

func TestAnOlderFileIsCopiedBeforeItIsOpened(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a [shop] of one's own", "shelf.db")
	fill(t, path, 1)
	steps, err := Prepare(t.Context(), []File{{path, schema(2)}}, noon)
	if err != nil || len(steps) != 1 || steps[0].From != 1 || steps[0].To != 2 {
		t.Fatalf("%+v, %v", steps, err)
	}
	fill(t, path, 2) // the newer recoat opens it
	if label, err := sqldb.Inspect(t.Context(), steps[0].Copy); err != nil || label.Version != 1 {
		t.Fatalf("the copy is of version %d, %v", label.Version, err)
	}
	// Back to the older recoat, it is refused by name, with the way back …
	_, err = Prepare(t.Context(), []File{{path, schema(1)}}, noon.Add(time.Hour))
	if !errors.Is(err, sqldb.ErrNewer) {
		t.Fatal(err)
	}
	for _, want := range []string{path, "schema 2", "up to 1", steps[0].Copy} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("no %q in: %v", want, err)
		}
	}
	// … and the way back works.
	old, err := sqldb.Open(t.Context(), steps[0].Copy, schema(1))
	if err != nil {
		t.Fatal(err)
	}
	defer old.Close()
	var ml int
	if err := old.Read.QueryRow(`SELECT sum(ml) FROM jar`).Scan(&ml); err != nil || ml != 100 {
		t.Errorf("%d, %v", ml, err)
	}
}

func TestOneNewerFileStopsTheCopyingOfAll(t *testing.T) {
	folder := t.TempDir()
	older, newer, foreign := filepath.Join(folder, "older.db"), filepath.Join(folder, "newer.db"), filepath.Join(folder, "foreign.db")
	fill(t, older, 1)
	fill(t, newer, 3)
	fill(t, foreign, 1)
	other := sqldb.Schema{ApplicationID: 1, Migrations: schema(2).Migrations}
	steps, err := Prepare(t.Context(), []File{{older, schema(2)}, {newer, schema(2)}, {foreign, other}}, noon)
	if len(steps) != 0 || !errors.Is(err, sqldb.ErrNewer) || !errors.Is(err, sqldb.ErrForeign) || !strings.Contains(err.Error(), "no copy") {
		t.Errorf("%+v, %v", steps, err)
	}
	if _, err := os.Stat(filepath.Join(folder, Folder)); !os.IsNotExist(err) {
		t.Errorf("copies were made: %v", err)
	}
}

func TestWhatIsNewEmptyOrOfThisSchemaIsLeftAlone(t *testing.T) {
	folder := t.TempDir()
	current, empty := filepath.Join(folder, "current.db"), filepath.Join(folder, "empty.db")
	fill(t, current, 2)
	if err := os.WriteFile(empty, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	steps, err := Prepare(t.Context(), []File{{current, schema(2)}, {empty, schema(2)}, {filepath.Join(folder, "absent.db"), schema(2)}}, noon)
	if err != nil || len(steps) != 0 {
		t.Errorf("%+v, %v", steps, err)
	}
}

func TestOnlyTheLastCopiesStay(t *testing.T) {
	path := filepath.Join(t.TempDir(), "shelf.db")
	var made []string
	for v := 1; v <= 9; v++ {
		fill(t, path, v)
		steps, err := Prepare(t.Context(), []File{{path, schema(v + 1)}}, noon.AddDate(0, 0, v))
		if err != nil {
			t.Fatal(err)
		}
		made = append(made, steps[0].Copy)
	}
	if left := copies(path); !slices.Equal(left, made[len(made)-kept:]) {
		t.Errorf("%v stay", left)
	}
}

// The package looks when it is installed, the service when it starts: one copy
// is enough, unless something was written in between.
func TestAFileIsNotCopiedTwice(t *testing.T) {
	path := filepath.Join(t.TempDir(), "shelf.db")
	fill(t, path, 1)
	for i, want := range []int{1, 0, 0} {
		if steps, err := Prepare(t.Context(), []File{{path, schema(2)}}, noon.Add(time.Duration(i)*time.Second)); err != nil || len(steps) != want {
			t.Errorf("look %d: %+v, %v", i, steps, err)
		}
	}
	fill(t, path, 1)
	later := time.Now().Add(time.Minute)
	if err := os.Chtimes(path, later, later); err != nil {
		t.Fatal(err)
	}
	if steps, err := Prepare(t.Context(), []File{{path, schema(2)}}, noon.Add(time.Minute)); err != nil || len(steps) != 1 {
		t.Errorf("written to since: %+v, %v", steps, err)
	}
}

// A start that repairs files from their backups follows: it must not be kept from
// that, nor the other files from their copies.
func TestADamagedFileIsLeftToTheRepair(t *testing.T) {
	folder := t.TempDir()
	rust, torn, sound := filepath.Join(folder, "rust.db"), filepath.Join(folder, "torn.db"), filepath.Join(folder, "sound.db")
	if err := os.WriteFile(rust, []byte(strings.Repeat("rust", 2000)), 0o600); err != nil {
		t.Fatal(err)
	}
	fill(t, torn, 1)
	fill(t, sound, 1)
	whole, err := os.ReadFile(torn)
	if err != nil {
		t.Fatal(err)
	}
	copy(whole[8192:], strings.Repeat("rust", 1024)) // its first page still says what it is, the third is the table's
	if err := os.WriteFile(torn, whole, 0o600); err != nil {
		t.Fatal(err)
	}
	steps, err := Prepare(t.Context(), []File{{rust, schema(2)}, {torn, schema(2)}, {sound, schema(2)}}, noon)
	if err != nil || len(steps) != 1 || steps[0].Path != sound {
		t.Errorf("%+v, %v", steps, err)
	}
	if left, _ := filepath.Glob(filepath.Join(folder, Folder, "torn*")); len(left) != 0 {
		t.Errorf("a copy of damage: %v", left)
	}
}
