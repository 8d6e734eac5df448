package upkeep

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"log/slog"

	"recoat/internal/sqldb"
)

var shelf = sqldb.Schema{ApplicationID: 0x5e1f, Migrations: []string{`CREATE TABLE jar(ml INTEGER NOT NULL, label TEXT NOT NULL) STRICT`}}

// stocked is a folder with a file of as many jars.
func stocked(t *testing.T, jars int) Keeper {
	t.Helper()
	k := Keeper{Folder: t.TempDir()}
	k.Files = []File{{Path: filepath.Join(k.Folder, "shelf.db"), What: "jars"}, {Path: filepath.Join(k.Folder, "way.db"), What: "jars on their way", Passing: true}}
	for _, f := range k.Files {
		put(t, f.Path, jars)
	}
	return k
}

func put(t *testing.T, path string, jars int) {
	t.Helper()
	db, err := sqldb.Open(t.Context(), path, shelf)
	if err != nil {
		t.Fatal(err)
	}
	for range jars {
		if _, err := db.Write.Exec(`INSERT INTO jar VALUES (750, ?)`, strings.Repeat("colour ", 60)); err != nil {
			t.Fatal(err)
		}
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
}

func jars(t *testing.T, path string) (n int) {
	t.Helper()
	db, err := sqldb.Open(t.Context(), path, shelf)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = db.Close() }()
	if err := db.Read.QueryRow(`SELECT count(*) FROM jar`).Scan(&n); err != nil {
		t.Fatal(err)
	}
	return n
}

var night = time.Date(2031, 2, 3, 3, 0, 0, 0, time.UTC)

// Whatever happens to a file, it is kept, the newest sound backup takes its
// place, and the pages can say what is lost.
func TestADamagedFileGivesWayToItsBackup(t *testing.T) {
	for name, harm := range map[string]func(t *testing.T, path string, content []byte) []byte{
		"zeros":         func(_ *testing.T, _ string, c []byte) []byte { return make([]byte, len(c)) },
		"torn page":     func(_ *testing.T, _ string, c []byte) []byte { copy(c[4096:], make([]byte, 4096)); return c },
		"cut short":     func(_ *testing.T, _ string, c []byte) []byte { return c[:len(c)/2] },
		"emptied":       func(*testing.T, string, []byte) []byte { return nil },
		"another thing": func(*testing.T, string, []byte) []byte { return []byte(strings.Repeat("time,air_c\n", 500)) },
		"gone": func(t *testing.T, path string, _ []byte) []byte {
			if err := os.Remove(path); err != nil {
				t.Fatal(err)
			}
			return nil
		},
	} {
		t.Run(name, func(t *testing.T) {
			k := stocked(t, 40)
			if err := k.Backup(t.Context(), night); err != nil {
				t.Fatal(err)
			}
			put(t, k.Files[0].Path, 5)
			content, err := os.ReadFile(k.Files[0].Path)
			if err != nil {
				t.Fatal(err)
			}
			if harmed := harm(t, k.Files[0].Path, content); name != "gone" {
				if err := os.WriteFile(k.Files[0].Path, harmed, 0o600); err != nil {
					t.Fatal(err)
				}
			}
			mended, err := k.Mend(t.Context(), night.Add(9*time.Hour))
			if err != nil || len(mended) != 1 || mended[0].Backup.IsZero() || name != "gone" && mended[0].Aside == "" {
				t.Fatalf("%+v, %v", mended, err)
			}
			if n := jars(t, k.Files[0].Path); n != 40 {
				t.Errorf("%d jars after it, 40 were in the backup", n)
			}
			if again, err := k.Mend(t.Context(), night.Add(10*time.Hour)); err != nil || len(again) != 0 {
				t.Errorf("mended once more: %+v, %v", again, err)
			}
			notes, err := k.Notes(night.Add(24 * time.Hour))
			if err != nil || len(notes) != 1 || !strings.Contains(notes[0].Sentence(time.UTC), "3 February 2031, 12:00 is lost") {
				t.Errorf("the pages say %+v, %v", notes, err)
			}
			if old, err := k.Notes(night.AddDate(0, 1, 0)); err != nil || len(old) != 0 {
				t.Errorf("a month later they still say %+v, %v", old, err)
			}
		})
	}
}

func TestWithoutABackupANewFileIsBegun(t *testing.T) {
	k := stocked(t, 40)
	if err := os.WriteFile(k.Files[1].Path, make([]byte, 8192), 0o600); err != nil {
		t.Fatal(err)
	}
	mended, err := k.Mend(t.Context(), night)
	if err != nil || len(mended) != 1 || !mended[0].Backup.IsZero() || !strings.Contains(mended[0].Sentence(time.UTC), "no backup") {
		t.Fatalf("%+v, %v", mended, err)
	}
	if n := jars(t, k.Files[1].Path); n != 0 {
		t.Errorf("%d jars in a new file", n)
	}
}

// A backup that is itself damaged is passed over for an older one.
func TestTheNewestSoundBackupIsTaken(t *testing.T) {
	k := stocked(t, 40)
	for day := range 2 {
		if err := k.Backup(t.Context(), night.AddDate(0, 0, day)); err != nil {
			t.Fatal(err)
		}
		put(t, k.Files[0].Path, 3)
	}
	newest := filepath.Join(k.Folder, "backups", "2031-02-04", "shelf.db")
	for _, path := range []string{newest, k.Files[0].Path} {
		if err := os.WriteFile(path, make([]byte, 9000), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := k.Mend(t.Context(), night.AddDate(0, 0, 2)); err != nil {
		t.Fatal(err)
	}
	if n := jars(t, k.Files[0].Path); n != 40 {
		t.Errorf("%d jars, 40 were in the older backup", n)
	}
}

func TestBackupsAreKeptByDayAndByWeek(t *testing.T) {
	k := stocked(t, 1)
	for day := range 60 {
		if err := k.Backup(t.Context(), night.AddDate(0, 0, day)); err != nil {
			t.Fatal(err)
		}
	}
	days, err := k.Days()
	if err != nil || len(days) != keptDays+keptWeeks {
		t.Fatalf("%d kept, %v", len(days), err)
	}
	if age := days[0].Date.Sub(days[len(days)-1].Date); age < 24*24*time.Hour || len(days[0].Names) != 1 {
		t.Errorf("the oldest is %v older, and four weeks are kept; names %v", age, days[0].Names)
	}
}

func TestRestoreSetsAsideWhatThereIs(t *testing.T) {
	k := stocked(t, 4)
	if err := k.Backup(t.Context(), night); err != nil {
		t.Fatal(err)
	}
	put(t, k.Files[0].Path, 2)
	if _, err := k.Restore(t.Context(), night.AddDate(0, 0, 5), night); err == nil || !strings.Contains(err.Error(), "there is 2031-02-03") {
		t.Errorf("a day without: %v", err)
	}
	done, err := k.Restore(t.Context(), time.Date(2031, 2, 3, 0, 0, 0, 0, time.UTC), night)
	if err != nil || len(done) != 1 || jars(t, k.Files[0].Path) != 4 || jars(t, done[0].Aside) != 6 {
		t.Fatalf("%+v, %v", done, err)
	}
}

// The work is done once a night, also after a step of the clock, and a failure
// is told until a night goes well.
func TestNightly(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		full := errors.New("no room")
		var ran atomic.Int64
		var well atomic.Bool
		n := &Nightly{Location: time.UTC, Now: time.Now, Log: slog.New(slog.DiscardHandler), Jobs: []Job{{"count", func(context.Context, time.Time) error {
			ran.Add(1)
			if well.Load() {
				return nil
			}
			return full
		}}}}
		ctx, cancel := context.WithCancel(t.Context())
		ended := make(chan error, 1)
		go func() { ended <- n.Run(ctx) }()
		time.Sleep(72 * time.Hour)
		synctest.Wait()
		if ran.Load() != 3 || n.Failed() == nil || !errors.Is(n.Failed().Err, full) {
			t.Errorf("%d nights of 3, %v", ran.Load(), n.Failed())
		}
		well.Store(true)
		time.Sleep(24 * time.Hour)
		synctest.Wait()
		if n.Failed() != nil {
			t.Errorf("still told: %v", n.Failed())
		}
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
}

func FuzzNotes(f *testing.F) {
	f.Add([]byte(`[{"at":"2031-02-03T03:00:00Z","what":"readings","reason":"zeros","aside":"damaged/x"}]`))
	f.Add([]byte(`[`))
	f.Fuzz(func(t *testing.T, text []byte) {
		all, err := decodeNotes(text)
		for _, m := range all {
			if err == nil && m.Sentence(time.UTC) == "" {
				t.Fatal("nothing to say")
			}
		}
	})
}
