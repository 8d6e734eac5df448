package sqldb

import (
	"context"
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"sync"
	"testing"
)

var shelf = Schema{ApplicationID: 0x5e1f, Migrations: []string{
	`CREATE TABLE jar(id INTEGER PRIMARY KEY, ml INTEGER NOT NULL)`,
	`ALTER TABLE jar ADD COLUMN label TEXT NOT NULL DEFAULT ''`,
}}

func open(t *testing.T, path string, s Schema) *DB {
	t.Helper()
	db, err := Open(context.Background(), path, s)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() })
	return db
}

func TestOpenMigratesOnceAndKeepsRows(t *testing.T) {
	path := filepath.Join(t.TempDir(), "with space & more", "shelf.db")
	old := open(t, path, Schema{ApplicationID: shelf.ApplicationID, Migrations: shelf.Migrations[:1]})
	if _, err := old.Write.Exec(`INSERT INTO jar(ml) VALUES (750)`); err != nil {
		t.Fatal(err)
	}
	if err := old.Close(); err != nil {
		t.Fatal(err)
	}
	db := open(t, path, shelf)
	var ml int
	var label, mode string
	if err := db.Read.QueryRow(`SELECT ml, label FROM jar`).Scan(&ml, &label); err != nil || ml != 750 || label != "" {
		t.Fatalf("after the second migration: %d %q %v", ml, label, err)
	}
	if err := db.Write.QueryRow(`PRAGMA journal_mode`).Scan(&mode); err != nil || mode != "wal" {
		t.Fatalf("journal mode %q, %v", mode, err)
	}
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
		t.Fatalf("mode %v, %v", info.Mode(), err)
	}
	if _, err := db.Read.Exec(`DELETE FROM jar`); err == nil {
		t.Fatal("the reading pool could write")
	}
}

func TestOpenRefusesNewerAndForeignFiles(t *testing.T) {
	path := filepath.Join(t.TempDir(), "shelf.db")
	if err := open(t, path, shelf).Close(); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		schema Schema
		want   error
	}{
		"newer":   {Schema{shelf.ApplicationID, shelf.Migrations[:1]}, ErrNewer},
		"foreign": {Schema{1, shelf.Migrations}, ErrForeign},
	} {
		if _, err := Open(context.Background(), path, c.schema); !errors.Is(err, c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestConcurrentReadThenWriteNeverSeesBusy(t *testing.T) {
	db := open(t, filepath.Join(t.TempDir(), "shelf.db"), shelf)
	if _, err := db.Write.Exec(`INSERT INTO jar(id, ml) VALUES (1, 0)`); err != nil {
		t.Fatal(err)
	}
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			for range 25 {
				err := db.Tx(context.Background(), func(tx *sql.Tx) error {
					var ml int
					if err := tx.QueryRow(`SELECT ml FROM jar WHERE id=1`).Scan(&ml); err != nil {
						return err
					}
					_, err := tx.Exec(`UPDATE jar SET ml=?`, ml+1)
					return err
				})
				if err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
	var ml int
	if err := db.Read.QueryRow(`SELECT ml FROM jar`).Scan(&ml); err != nil || ml != 200 {
		t.Fatalf("%d increments counted, %v", ml, err)
	}
}
