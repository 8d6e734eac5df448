package shop

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"recoat/internal/quantity"
	"recoat/internal/shop/schedule"
	"recoat/internal/sqldb"
)

// ErrJournalThere says that a restore would write over a journal.
var ErrJournalThere = errors.New("there is a journal already: move it aside first")

// largestBackup is how many bytes of a backup are read.
const largestBackup = 256 << 20

// RestoreJournal makes the journal at path from a backup, of this version or an
// earlier one. There must be none yet. It is whole or not there at all.
func RestoreJournal(ctx context.Context, path string, r io.Reader) error {
	if _, err := os.Stat(path); err == nil {
		return fmt.Errorf("restore %s: %w", path, ErrJournalThere)
	}
	b, err := readBackup(r)
	if err != nil {
		return fmt.Errorf("restore the journal: %w", err)
	}
	making := path + ".restoring"
	discard(making) // of a restore that was cut short
	if err := b.make(ctx, making); err != nil {
		discard(making)
		return fmt.Errorf("restore the journal: %w", err)
	}
	if err := os.Rename(making, path); err != nil {
		discard(making)
		return fmt.Errorf("restore the journal: %w", err)
	}
	return syncFolder(filepath.Dir(path))
}

// discard takes away a file that was being made; what cannot be taken away is
// met again when the next one is.
func discard(path string) {
	for _, suffix := range []string{"", "-wal", "-shm"} {
		_ = os.Remove(path + suffix)
	}
}

func syncFolder(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("restore the journal: %w", err)
	}
	return errors.Join(f.Sync(), f.Close())
}

func readBackup(r io.Reader) (backup, error) {
	limited := &io.LimitedReader{R: r, N: largestBackup + 1}
	decoder := json.NewDecoder(limited)
	decoder.DisallowUnknownFields()
	decoder.UseNumber()
	var b backup
	err := decoder.Decode(&b)
	if err == nil {
		if _, err = decoder.Token(); errors.Is(err, io.EOF) {
			err = nil
		} else {
			err = errors.New("something follows its end")
		}
	}
	switch {
	case limited.N == 0:
		return backup{}, fmt.Errorf("the file is larger than %d MiB: it is no backup of a journal", largestBackup>>20)
	case err != nil:
		return backup{}, fmt.Errorf("the file is not a whole backup of a journal: %w", err)
	case b.Format != backupFormat || b.Version < 1:
		return backup{}, errors.New("the file is not a backup of a journal")
	case b.Version > len(schema.Migrations):
		return backup{}, fmt.Errorf("version %d, newest known %d: %w", b.Version, len(schema.Migrations), sqldb.ErrNewer)
	}
	return b, nil
}

// make writes the journal at path as its version had it, brings it to this one
// and reads it through.
func (b backup) make(ctx context.Context, path string) error {
	then := sqldb.Schema{ApplicationID: schema.ApplicationID, Migrations: schema.Migrations[:b.Version]}
	db, err := sqldb.Open(ctx, path, then)
	if err != nil {
		return err
	}
	if err := errors.Join(db.Tx(ctx, func(tx *sql.Tx) error { return b.insert(ctx, tx) }), db.Close()); err != nil {
		return err
	}
	j, err := OpenJournal(ctx, path)
	if err != nil {
		return err
	}
	return errors.Join(j.readThrough(ctx), j.Close())
}

func (b backup) insert(ctx context.Context, tx *sql.Tx) error {
	if _, err := tx.ExecContext(ctx, `PRAGMA defer_foreign_keys = ON`); err != nil {
		return err
	}
	tables, err := layout(ctx, tx)
	if err != nil {
		return err
	}
	if err := b.fit(tables); err != nil {
		return err
	}
	for i, t := range tables {
		if err := t.fill(ctx, tx, b.Tables[i].Rows); err != nil {
			return fmt.Errorf("the table %s: %w", t.name, err)
		}
	}
	return nil
}

// fit holds the backup to the tables of its version, and makes of its values
// what those take.
func (b backup) fit(tables []table) error {
	if len(b.Tables) != len(tables) {
		return fmt.Errorf("the backup holds %d tables, its version has %d", len(b.Tables), len(tables))
	}
	for i, t := range tables {
		if b.Tables[i].Name != t.name || !slices.Equal(b.Tables[i].Columns, t.columns) {
			return fmt.Errorf("table %d of the backup is %s, its version has %s there, with %s", i+1, quantity.Quote(b.Tables[i].Name), t.name, strings.Join(t.columns, ", "))
		}
		if err := t.fit(b.Tables[i].Rows); err != nil {
			return fmt.Errorf("the table %s: %w", t.name, err)
		}
	}
	return nil
}

func (t table) fit(rows [][]any) (err error) {
	for i, row := range rows {
		if len(row) != len(t.columns) {
			return fmt.Errorf("row %d has %d values instead of %d", i+1, len(row), len(t.columns))
		}
		for k := range row {
			if row[k], err = value(row[k]); err != nil {
				return fmt.Errorf("row %d, %s: %w", i+1, t.columns[k], err)
			}
		}
	}
	return nil
}

func (t table) fill(ctx context.Context, tx *sql.Tx, rows [][]any) error {
	insert, err := tx.PrepareContext(ctx, `INSERT INTO `+t.name+` VALUES (?`+strings.Repeat(", ?", len(t.columns)-1)+`)`)
	if err != nil {
		return err
	}
	defer insert.Close()
	for i, row := range rows {
		if _, err := insert.ExecContext(ctx, row...); err != nil {
			return fmt.Errorf("row %d: %w", i+1, err)
		}
	}
	return nil
}

// value is what a table takes of a JSON value.
func value(v any) (any, error) {
	switch v := v.(type) {
	case nil, string:
		return v, nil
	case json.Number:
		if n, err := v.Int64(); err == nil {
			return n, nil
		}
		return v.Float64()
	}
	return nil, errors.New("a value is neither text nor a number nor null")
}

// readSchedules reads the schedules of pieces and checks them.
func (j *Journal) readSchedules(ctx context.Context, pieces []Piece) error {
	for _, p := range pieces {
		parts, err := j.Schedules(ctx, p.ID)
		if err == nil {
			err = schedule.Check(parts)
		}
		if err != nil {
			return fmt.Errorf("the piece %s: %w", p.ID, err)
		}
	}
	return nil
}

// readThrough reads all that the journal holds, to find what cannot be read.
func (j *Journal) readThrough(ctx context.Context) error {
	_, rooms := j.Rooms(ctx)
	_, products := query(ctx, j.db.Read, "read the products", readProduct, `SELECT `+productColumns+` FROM product`) // every version
	all, listed := pieces(ctx, j.db.Read, `TRUE`)                                                                    // those in the archive too
	_, coats := j.Coats(ctx, CoatFilter{Undone: true})
	_, recipes := mixes(ctx, j.db.Read, `TRUE`)
	_, cans := query(ctx, j.db.Read, "read the shelf", readCan, selectCan+`TRUE`)
	_, touches := query(ctx, j.db.Read, "read the touch tests", readTouch, selectTouch+`TRUE`)
	_, moistures := j.moistures(ctx, `TRUE`)
	_, reminders := j.OpenReminders(ctx)
	_, checks := j.Calibrations(ctx)
	_, defects := j.Defects(ctx, "")
	changes := j.Changes(ctx, 0, func(c Change) error {
		if !json.Valid(c.Before) || !json.Valid(c.After) {
			return fmt.Errorf("change %d is not whole", c.Seq)
		}
		return nil
	})
	return errors.Join(rooms, products, listed, coats, recipes, cans, touches, moistures, reminders, checks, defects, changes, j.readSchedules(ctx, all))
}
