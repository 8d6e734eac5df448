package sqldb

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
)

// Label is what a file says of itself.
type Label struct {
	ApplicationID int32
	Version       int // of its schema; 0: nothing was put into it yet
}

// Inspect reads the label of an existing file. What a killed process left in
// the write-ahead log is taken in first; nothing else changes.
func Inspect(ctx context.Context, path string) (l Label, err error) {
	err = Visit(ctx, path, func(db *sql.DB) error {
		return db.QueryRowContext(ctx, `SELECT (SELECT * FROM pragma_application_id), (SELECT * FROM pragma_user_version)`).Scan(&l.ApplicationID, &l.Version)
	})
	return l, err
}

// Making is where CopyTo writes what is to be at a path, until it is whole.
func Making(to string) string { return to + ".making" }

// CopyTo writes a whole and checked copy of the file at path to a file that is
// not there yet. A copy cut short leaves none under that name.
func CopyTo(ctx context.Context, path, to string) error {
	if _, err := os.Lstat(to); !errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("copy %s: %s is there already", path, to)
	}
	making := Making(to)
	if err := errors.Join(remove(making), os.MkdirAll(filepath.Dir(to), 0o700)); err != nil {
		return fmt.Errorf("copy %s: %w", path, err)
	}
	err := Visit(ctx, path, func(db *sql.DB) error {
		_, err := db.ExecContext(ctx, `VACUUM INTO ?`, making)
		return err
	})
	if err == nil {
		err = checkWhole(ctx, making)
	}
	if err == nil {
		err = publish(making, to)
	}
	if err != nil {
		return errors.Join(fmt.Errorf("copy %s to %s: %w", path, to, err), remove(making))
	}
	return nil
}

// Visit opens an existing file for do alone, also beside a process that has it
// open, and never makes one.
func Visit(ctx context.Context, path string, do func(*sql.DB) error) error {
	name := (&url.URL{Scheme: "file", Opaque: (&url.URL{Path: path}).EscapedPath()}).String()
	db, err := sql.Open("sqlite", name+"?mode=rw&_pragma=busy_timeout(5000)&_pragma=trusted_schema(0)")
	if err != nil {
		return err
	}
	db.SetMaxOpenConns(1)
	if err := errors.Join(do(db), db.Close()); err != nil {
		return fmt.Errorf("%s: %w", path, named(err))
	}
	return ctx.Err()
}

func checkWhole(ctx context.Context, path string) error {
	return Visit(ctx, path, func(db *sql.DB) error {
		var verdict string
		if err := db.QueryRowContext(ctx, `PRAGMA integrity_check(1)`).Scan(&verdict); err != nil {
			return err
		}
		if verdict != "ok" {
			return fmt.Errorf("%w: %s", ErrDamaged, verdict)
		}
		return nil
	})
}

// publish gives a finished file its name so that a power cut leaves either none
// or all of it.
func publish(making, to string) error {
	if err := os.Chmod(making, 0o600); err != nil {
		return err
	}
	if err := flush(making); err != nil {
		return err
	}
	if err := os.Rename(making, to); err != nil {
		return err
	}
	return flush(filepath.Dir(to))
}

func flush(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

func remove(path string) error {
	if err := os.Remove(path); !errors.Is(err, os.ErrNotExist) {
		return err
	}
	return nil
}
