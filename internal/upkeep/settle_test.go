package upkeep

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"recoat/internal/sqldb"
)

// midnight is the day of the backup made at night.
var midnight = time.Date(2031, 2, 3, 0, 0, 0, 0, time.UTC)

// emptied makes a shelf fit to be used again by clearing it.
func emptied(ctx context.Context, path string) error {
	db, err := sqldb.Open(ctx, path, shelf)
	if err != nil {
		return err
	}
	_, err = db.Write.ExecContext(ctx, `DELETE FROM jar`)
	return errors.Join(err, db.Close())
}

// A file that has to be settled is settled before it takes its place, however it
// gets there, and the backup stays as it is.
func TestABackupIsSettledBeforeItIsUsed(t *testing.T) {
	for _, way := range []string{"restored", "mended"} {
		t.Run(way, func(t *testing.T) {
			k := stocked(t, 4)
			k.Files[0].Settle = emptied
			if err := k.Backup(t.Context(), night); err != nil {
				t.Fatal(err)
			}
			// What a restore that was cut short left behind is in nobody's way.
			if err := os.WriteFile(k.Files[0].Path+".settling", []byte("half"), 0o600); err != nil {
				t.Fatal(err)
			}
			var err error
			if way == "mended" {
				if err = os.WriteFile(k.Files[0].Path, make([]byte, 9000), 0o600); err == nil {
					_, err = k.Mend(t.Context(), night)
				}
			} else {
				_, err = k.Restore(t.Context(), midnight, night)
			}
			if err != nil {
				t.Fatal(err)
			}
			if n := jars(t, k.Files[0].Path); n != 0 {
				t.Errorf("%d jars in what was to be emptied", n)
			}
			if n := jars(t, filepath.Join(k.Folder, "backups", "2031-02-03", "shelf.db")); n != 4 {
				t.Errorf("%d jars left in the backup of 4", n)
			}
			if left, err := filepath.Glob(k.Files[0].Path + ".*"); err != nil || len(left) > 0 {
				t.Errorf("left behind: %v, %v", left, err)
			}
		})
	}
}

// What cannot be settled does not take the file's place.
func TestABackupThatCannotBeSettledIsNotUsed(t *testing.T) {
	k := stocked(t, 4)
	if err := k.Backup(t.Context(), night); err != nil {
		t.Fatal(err)
	}
	stuck := errors.New("stuck")
	k.Files[0].Settle = func(context.Context, string) error { return stuck }
	if _, err := k.Restore(t.Context(), midnight, night); !errors.Is(err, stuck) {
		t.Errorf("%v", err)
	}
	if _, err := os.Stat(k.Files[0].Path); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("it is in place: %v", err)
	}
	k.Files[0].Settle = nil
	if mended, err := k.Mend(t.Context(), night); err != nil || len(mended) != 1 || jars(t, k.Files[0].Path) != 4 {
		t.Errorf("the next start: %+v, %v", mended, err)
	}
}

// Of backups in two folders the newer one is taken; a file that only the other
// folder has is found there.
func TestABackupInTheOtherFolderIsAsGood(t *testing.T) {
	k := stocked(t, 4)
	other := Keeper{Folder: t.TempDir(), Files: k.Files[:1]}
	if err := k.Backup(t.Context(), night); err != nil {
		t.Fatal(err)
	}
	put(t, k.Files[0].Path, 3)
	if err := other.Backup(t.Context(), night.AddDate(0, 0, 1)); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(k.Files[0].Path); err != nil {
		t.Fatal(err)
	}
	k.Files[0].Beside = []string{other.Folder, filepath.Join(k.Folder, "none")}
	if mended, err := k.Mend(t.Context(), night.AddDate(0, 0, 2)); err != nil || len(mended) != 1 {
		t.Fatalf("%+v, %v", mended, err)
	}
	if n := jars(t, k.Files[0].Path); n != 7 {
		t.Errorf("%d jars, the newer backup had 7", n)
	}
	if _, err := k.Restore(t.Context(), midnight.AddDate(0, 0, 1), night); err == nil || !strings.Contains(err.Error(), "there is 2031-02-03") {
		t.Errorf("a day of the other folder by hand: %v", err)
	}
}

// Work on several files says how far it is, up to its end and never back.
func TestBackupsAndRestoresSayHowFarTheyAre(t *testing.T) {
	k := stocked(t, 4000)
	var told []float64
	k.Progress = func(share float64) { told = append(told, share) }
	check := func(what string) {
		t.Helper()
		if len(told) == 0 || told[len(told)-1] != 1 || !slices.IsSorted(told) || told[0] <= 0 {
			t.Errorf("%s told %v", what, told)
		}
		told = nil
	}
	k.Files = append(k.Files, File{Path: filepath.Join(k.Folder, "second.db"), What: "more jars"})
	put(t, k.Files[2].Path, 400)
	if err := k.Backup(t.Context(), night); err != nil {
		t.Fatal(err)
	}
	if len(told) < 2 {
		t.Errorf("two files told %v", told)
	}
	check("the backup")
	if _, err := k.Restore(t.Context(), midnight, night); err != nil {
		t.Fatal(err)
	}
	check("the restore")
}
