package upgrade

import (
	"context"
	"database/sql"
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
	"recoat/internal/sqldb"
)

// childUpgrade makes the test binary a child that fills a file of the first
// version and upgrades it.
const childUpgrade = "RECOAT_TEST_CHILD_UPGRADE"

func TestMain(m *testing.M) {
	path := os.Getenv(childUpgrade)
	if path == "" {
		os.Exit(m.Run())
	}
	if err := upgradeOnce(context.Background(), path); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// rebuilt is a schema whose second version makes its table anew, as a change of
// a column's kind has to, and whose third adds an index.
func rebuilt(version int) sqldb.Schema {
	return sqldb.Schema{ApplicationID: jars, Migrations: []string{
		`CREATE TABLE jar(ml INTEGER NOT NULL)`,
		`CREATE TABLE fresh(ml INTEGER NOT NULL, litres REAL NOT NULL); INSERT INTO fresh SELECT ml, ml / 1000.0 FROM jar; DROP TABLE jar; ALTER TABLE fresh RENAME TO jar`,
		`CREATE INDEX jar_ml ON jar(ml)`,
	}[:version]}
}

const jarCount = 4000

func upgradeOnce(ctx context.Context, path string) error {
	db, err := sqldb.Open(ctx, path, rebuilt(1))
	if err != nil {
		return err
	}
	err = db.Tx(ctx, func(tx *sql.Tx) error {
		for n := range jarCount {
			if _, err := tx.ExecContext(ctx, `INSERT INTO jar VALUES (?)`, n); err != nil {
				return err
			}
		}
		return nil
	})
	if err := errors.Join(err, db.Close()); err != nil {
		return err
	}
	fmt.Println("filled")
	if _, err := Prepare(ctx, []File{{path, rebuilt(3)}}, noon); err != nil {
		return err
	}
	fmt.Println("copied")
	if db, err = sqldb.Open(ctx, path, rebuilt(3)); err != nil {
		return err
	}
	fmt.Println("upgraded")
	return db.Close()
}

// A power cut at any moment of an upgrade leaves the file in one version or
// another with all that was in it, a copy that is whole or none, and the next
// start brings it to the end.
func TestPowerCutOfAnUpgrade(t *testing.T) {
	if !powercut.Available() {
		t.Skip("strace is not installed: writes cannot be recorded")
	}
	root := t.TempDir()
	child := exec.CommandContext(t.Context(), os.Args[0])
	child.Env = append(os.Environ(), childUpgrade+"="+filepath.Join(root, "shelf.db"))
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
	versions := map[int]int{}
	for range count {
		folder, moment := t.TempDir(), g.IntN(recording.Len())
		if err := recording.Image(g, moment, folder); err != nil {
			t.Fatal(err)
		}
		said := recording.Said(moment)
		if !strings.Contains(said, "filled") {
			continue // what a fresh file goes through is the store's own test
		}
		versions[checkUpgrade(t, filepath.Join(folder, "shelf.db"), said)]++
	}
	t.Logf("%d calls with %d syncs; disks by version %v", recording.Len()-1, recording.Syncs(), versions)
	if versions[1] == 0 || versions[3] == 0 {
		t.Errorf("the cuts met versions %v alone", versions)
	}
}

// checkUpgrade looks at one disk, and returns the version that the file has on
// it.
func checkUpgrade(t *testing.T, path, said string) int {
	t.Helper()
	found, err := sqldb.Inspect(t.Context(), path)
	if err != nil || found.Version < 1 || strings.Contains(said, "upgraded") && found.Version != 3 {
		t.Fatalf("after %q the file is of version %d, %v", said, found.Version, err)
	}
	if n := jarsIn(t, path, found.Version); n != jarCount {
		t.Fatalf("after %q version %d holds %d of %d jars", said, found.Version, n, jarCount)
	}
	made := copies(path)
	if strings.Contains(said, "copied") && len(made) != 1 {
		t.Fatalf("after %q there are the copies %v", said, made)
	}
	for _, c := range made {
		if n := jarsIn(t, c, 1); n != jarCount {
			t.Fatalf("the copy holds %d of %d jars", n, jarCount)
		}
	}
	if _, err := Prepare(t.Context(), []File{{path, rebuilt(3)}}, noon.Add(time.Hour)); err != nil {
		t.Fatalf("the next start: %v", err)
	}
	if n := jarsIn(t, path, 3); n != jarCount {
		t.Fatalf("upgraded by the next start it holds %d of %d jars", n, jarCount)
	}
	return found.Version
}

// jarsIn opens a file as of a version, and counts what is in it.
func jarsIn(t *testing.T, path string, version int) (n int) {
	t.Helper()
	if err := sqldb.Check(t.Context(), path); err != nil {
		t.Fatal(err)
	}
	db, err := sqldb.Open(t.Context(), path, rebuilt(version))
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(db.Read.QueryRow(`SELECT count(DISTINCT ml) FROM jar`).Scan(&n), db.Close()); err != nil {
		t.Fatal(err)
	}
	return n
}
