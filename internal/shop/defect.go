package shop

import (
	"context"
	"database/sql"
	"encoding/hex"
	"fmt"
	"regexp"
	"time"
)

// Defect is what a finisher saw go wrong in a coat.
type Defect struct {
	ID     string    `json:"id"`
	Coat   string    `json:"coat"`
	Seen   time.Time `json:"seen"`
	Kind   string    `json:"kind"`  // a word for it, such as "blushing"
	Place  string    `json:"place"` // where on the part
	Note   string    `json:"note"`
	Photo  string    `json:"photo"` // the file's SHA-256 in hexadecimal; empty: none
	Added  time.Time `json:"added"`
	Undone time.Time `json:"undone,omitzero"` // zero: it holds
}

var kindForm = regexp.MustCompile(`^[a-z][a-z-]{1,39}$`)

// AddDefect records what was seen; the id is the journal's to give. What kinds
// there are is for the caller to know.
func (j *Journal) AddDefect(ctx context.Context, d Defect, at time.Time) (Defect, error) {
	if err := d.clean(at); err != nil {
		return Defect{}, err
	}
	subject, err := j.change(ctx, "record the defect", at, func(tx *sql.Tx) (step, error) {
		coat, err := coatOf(ctx, tx, d.Coat)
		if err != nil {
			return step{}, err
		}
		n, err := coatIDs.number(d.Coat)
		switch {
		case err != nil:
			return step{}, err
		case d.Seen.Before(coat.Applied):
			return step{}, &InputError{"the defect", "was seen before the coat was put on, at " + coat.Applied.Format(time.RFC3339)}
		}
		result, err := tx.ExecContext(ctx, `INSERT INTO defect(coat, seen, kind, place, note, photo, added) VALUES (?, ?, ?, ?, ?, ?, ?)`,
			n, d.Seen.UnixMilli(), d.Kind, d.Place, d.Note, d.Photo, at.UnixMilli())
		if err != nil {
			return step{}, err
		}
		id, err := result.LastInsertId()
		d.ID = defectIDs.of(id)
		return step{d.ID, nil, d}, err
	})
	if err != nil {
		return Defect{}, err
	}
	d.ID = subject
	return d, nil
}

func (d *Defect) clean(at time.Time) error {
	if err := checkTime("when the defect was seen", d.Seen, at); err != nil {
		return err
	}
	if !kindForm.MatchString(d.Kind) {
		return &InputError{"the defect", "is of no kind that is known"}
	}
	if raw, err := hex.DecodeString(d.Photo); err != nil || len(raw) != 0 && len(raw) != 32 {
		return &InputError{"the photo", "is named by the 64 hexadecimal digits of its SHA-256"}
	}
	var err error
	if d.Place, err = cleanText("where it was seen", d.Place, LongestName); err != nil {
		return err
	}
	d.Note, err = cleanText("the note", d.Note, LongestNote)
	d.Seen, d.Added = fromMillis(d.Seen.UnixMilli()), fromMillis(at.UnixMilli())
	return err
}

// UndoDefect marks a defect as never seen. It stays in the journal.
func (j *Journal) UndoDefect(ctx context.Context, id string, at time.Time) error {
	n, err := defectIDs.number(id)
	if err != nil {
		return err
	}
	_, err = j.change(ctx, "undo the defect", at, func(tx *sql.Tx) (step, error) {
		found, err := queryRows(ctx, tx, readDefect, selectDefect+` WHERE id = ?`, n)
		switch {
		case err != nil:
			return step{}, err
		case len(found) == 0:
			return step{}, defectIDs.missing(id)
		case !found[0].Undone.IsZero():
			return step{}, &InputError{"the defect " + id, "was undone already"}
		}
		after := found[0]
		after.Undone = fromMillis(at.UnixMilli())
		_, err = tx.ExecContext(ctx, `UPDATE defect SET undone = ? WHERE id = ?`, at.UnixMilli(), n)
		return step{id, found[0], after}, err
	})
	return err
}

// Defects returns the defects of a coat that hold, in order of when they were
// seen; of every coat where coat is empty.
func (j *Journal) Defects(ctx context.Context, coat string) ([]Defect, error) {
	where, args := ` WHERE undone IS NULL`, []any{}
	if coat != "" {
		n, err := coatIDs.number(coat)
		if err != nil {
			return nil, fmt.Errorf("read the defects: %w", err)
		}
		where, args = where+` AND coat = ?`, append(args, n)
	}
	return query(ctx, j.db.Read, "read the defects", readDefect, selectDefect+where+` ORDER BY seen, id`, args...)
}

const selectDefect = `SELECT id, coat, seen, kind, place, note, photo, added, undone FROM defect`

func readDefect(scan scanner) (Defect, error) {
	var d Defect
	var id, coat, seen, added int64
	var undone sql.NullInt64
	err := scan(&id, &coat, &seen, &d.Kind, &d.Place, &d.Note, &d.Photo, &added, &undone)
	d.ID, d.Coat, d.Seen, d.Added = defectIDs.of(id), coatIDs.of(coat), fromMillis(seen), fromMillis(added)
	if undone.Valid {
		d.Undone = fromMillis(undone.Int64)
	}
	return d, err
}
