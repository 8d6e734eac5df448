// Package upkeep cares for the files of a data folder: it looks at them at
// start, sets a damaged one aside and restores the newest backup, and makes
// backups, checked ones, every night.
package upkeep

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"recoat/internal/sqldb"
)

// File is a database that is cared for.
type File struct {
	Path string
	// What names it for a person, such as "readings".
	What string
	// Check returns sqldb.ErrDamaged for a file that is not sound; nil is
	// sqldb.Check.
	Check func(ctx context.Context, path string) error
	// Passing is a file that holds what is on its way: it is checked, and not
	// backed up.
	Passing bool
	// Then is what a person is to see to after the file was mended; it may be
	// empty.
	Then string
	// Settle makes a copy of a backup fit to be used again, before it takes the
	// file's place; nil: it is as it is.
	Settle func(ctx context.Context, path string) error
	// Beside are further folders of the same kind as the Keeper's whose backups
	// of the file are as good as its own.
	Beside []string
}

func (f File) check(ctx context.Context, path string) error {
	if f.Check != nil {
		return f.Check(ctx, path)
	}
	return sqldb.Check(ctx, path)
}

func (f File) name() string { return filepath.Base(f.Path) }

// Keeper cares for the files of one folder. Only one may do so at a time.
type Keeper struct {
	Folder string // of the files; backups are below it
	Files  []File
	// CheckFor bounds the look at one file; 0 is a minute.
	CheckFor time.Duration
	// Progress is told how much of a backup or of a restore is done, from 0 to
	// 1; nil: nobody asks.
	Progress func(share float64)
}

const (
	defaultCheckFor = time.Minute
	backupFolder    = "backups"
	asideFolder     = "damaged"
	dayForm         = "2006-01-02"
	asideForm       = "20060102-150405"
)

// Mended says what was done about one file.
type Mended struct {
	At     time.Time `json:"at"`
	What   string    `json:"what"`
	Reason string    `json:"reason"`
	Aside  string    `json:"aside,omitempty"` // where the damaged file is now; empty if it was gone
	// Backup is when the backup was made that took its place; zero if there was
	// none. What was written between then and At is lost, but for what can be
	// had elsewhere.
	Backup time.Time `json:"backup,omitzero"`
	Then   string    `json:"then,omitempty"` // what to see to now
}

// Mend looks at every file before it is opened. A damaged one is set aside, with
// its log, and the newest sound backup takes its place. A file that takes too
// long to look at is taken to be sound. What was done is noted in the folder.
func (k Keeper) Mend(ctx context.Context, now time.Time) (all []Mended, err error) {
	for _, f := range k.Files {
		reason, err := k.examine(ctx, f)
		if err == nil && reason != "" {
			var m Mended
			m, err = k.replace(ctx, f, reason, now)
			all = append(all, m)
		}
		if err != nil {
			return all, fmt.Errorf("look at %s: %w", f.Path, err)
		}
	}
	if len(all) > 0 {
		err = k.note(all)
	}
	return all, err
}

// examine says what is wrong with a file, nothing if it is sound.
func (k Keeper) examine(ctx context.Context, f File) (reason string, err error) {
	days, err := k.daysOf(f)
	if err != nil {
		return "", err
	}
	backed := len(days) > 0
	_, err = os.Stat(f.Path)
	if errors.Is(err, os.ErrNotExist) {
		if backed {
			return "the file is gone", nil
		}
		return "", nil
	}
	if err != nil {
		return "", err
	}
	bound := k.CheckFor
	if bound == 0 {
		bound = defaultCheckFor
	}
	bounded, cancel := context.WithTimeout(ctx, bound)
	defer cancel()
	switch err := f.check(bounded, f.Path); {
	case errors.Is(err, sqldb.ErrDamaged):
		return err.Error(), nil
	case err != nil && ctx.Err() == nil && bounded.Err() != nil:
		return "", nil
	case err != nil:
		return "", err
	}
	label, err := sqldb.Inspect(ctx, f.Path)
	if err == nil && label.ApplicationID == 0 && backed {
		return "the file is empty", nil
	}
	return "", err
}

// replace sets a file aside and restores its newest sound backup.
func (k Keeper) replace(ctx context.Context, f File, reason string, now time.Time) (Mended, error) {
	m := Mended{At: now.UTC().Truncate(time.Second), What: f.What, Reason: reason, Then: f.Then}
	aside, err := k.setAside(f, now)
	if err != nil {
		return m, err
	}
	m.Aside = aside
	days, err := k.daysOf(f)
	if err != nil {
		return m, err
	}
	for _, d := range days {
		from := filepath.Join(d.Path, f.name())
		if f.check(ctx, from) != nil {
			continue // an older one may be sound
		}
		info, err := os.Stat(from)
		if err != nil {
			return m, err
		}
		m.Backup = info.ModTime().UTC().Truncate(time.Second)
		return m, f.restore(ctx, from)
	}
	return m, nil
}

// restore puts a copy of a backup in the file's place. What Settle does is done
// before that, so that a power cut never leaves a file that is not settled.
func (f File) restore(ctx context.Context, from string) (err error) {
	if f.Settle == nil {
		return sqldb.CopyTo(ctx, from, f.Path)
	}
	settling := f.Path + ".settling"
	if err := removeAll(settling); err != nil { // of a restore that was cut short
		return err
	}
	defer func() { err = errors.Join(err, removeAll(settling)) }()
	if err := sqldb.CopyTo(ctx, from, settling); err != nil {
		return err
	}
	if err := f.Settle(ctx, settling); err != nil {
		return err
	}
	return sqldb.CopyTo(ctx, settling, f.Path)
}

// removeAll takes a database away, with its log.
func removeAll(path string) error {
	var errs []error
	for _, tail := range []string{"", "-wal", "-shm"} {
		if err := os.Remove(path + tail); !errors.Is(err, os.ErrNotExist) {
			errs = append(errs, err)
		}
	}
	return errors.Join(errs...)
}

// setAside moves a file, its log and the log's index out of the way.
func (k Keeper) setAside(f File, now time.Time) (string, error) {
	to := filepath.Join(k.Folder, asideFolder, now.UTC().Format(asideForm))
	if err := os.MkdirAll(to, 0o700); err != nil {
		return "", err
	}
	moved := ""
	for _, tail := range []string{"", "-wal", "-shm"} {
		err := os.Rename(f.Path+tail, filepath.Join(to, f.name()+tail))
		switch {
		case errors.Is(err, os.ErrNotExist):
		case err != nil:
			return "", err
		case tail == "":
			moved = filepath.Join(to, f.name())
		}
	}
	return moved, syncFolder(filepath.Dir(f.Path))
}

func syncFolder(path string) error {
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// Sentence says to a person what was done.
func (m Mended) Sentence(local *time.Location) string {
	var b strings.Builder
	when := func(t time.Time) string { return t.In(local).Format("2 January 2006, 15:04") }
	fmt.Fprintf(&b, "On %s the file of %s was found damaged and set aside. ", when(m.At), m.What)
	if m.Backup.IsZero() {
		fmt.Fprintf(&b, "There was no backup of it: a new one was begun, and what the old one held is lost unless it can be repaired.")
		return b.String() + m.then()
	}
	fmt.Fprintf(&b, "The backup of %s took its place. What was written between then and %s is lost, but for readings that their nodes had not yet let go of: these come again by themselves.", when(m.Backup), when(m.At))
	return b.String() + m.then()
}

func (m Mended) then() string {
	if m.Then == "" {
		return ""
	}
	return " " + m.Then
}
