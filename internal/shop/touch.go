package shop

import (
	"context"
	"database/sql"
	"fmt"
	"time"
)

// Feel is what a finisher found by touch.
type Feel string

// What a touch test can find.
const (
	Wet   Feel = "wet"
	Tacky Feel = "tacky"
	Dry   Feel = "dry"
)

// Touch is one touch test.
type Touch struct {
	ID     string    `json:"id"`
	Coat   string    `json:"coat"`
	At     time.Time `json:"at"`
	Feel   Feel      `json:"feel"`
	Undone time.Time `json:"undone,omitzero"` // zero: it holds
}

// AddTouch records what was found by touch on t.Coat at t.At; the id is the
// journal's to give.
func (j *Journal) AddTouch(ctx context.Context, t Touch, at time.Time) (Touch, error) {
	if t.Feel != Wet && t.Feel != Tacky && t.Feel != Dry {
		return Touch{}, &InputError{"the touch test", "found nothing that is known: say wet, tacky or dry"}
	}
	if err := checkTime("the time of the touch test", t.At, at); err != nil {
		return Touch{}, err
	}
	t.At = fromMillis(t.At.UnixMilli())
	id, err := j.change(ctx, "add the touch test", at, func(tx *sql.Tx) (step, error) {
		coat, err := coatOf(ctx, tx, t.Coat)
		switch {
		case err != nil:
			return step{}, err
		case !coat.Undone.IsZero():
			return step{}, &InputError{"the coat " + coat.ID, "was undone: there is nothing to touch"}
		case t.At.Before(coat.Applied):
			return step{}, &InputError{"the touch test", "was made before the coat was put on, at " + coat.Applied.Format(time.RFC3339)}
		}
		n, err := coatIDs.number(t.Coat)
		if err != nil {
			return step{}, err
		}
		result, err := tx.ExecContext(ctx, `INSERT INTO touch(coat, at, feel) VALUES (?, ?, ?)`, n, t.At.UnixMilli(), string(t.Feel))
		if err != nil {
			return step{}, err
		}
		added, err := result.LastInsertId()
		t.ID = touchIDs.of(added)
		return step{t.ID, nil, t}, err
	})
	if err != nil {
		return Touch{}, err
	}
	return touchOf(ctx, j.db.Read, id)
}

// UndoTouch marks a touch test as never made. It stays in the record of
// changes, and teaches nothing any more.
func (j *Journal) UndoTouch(ctx context.Context, id string, at time.Time) error {
	n, err := touchIDs.number(id)
	if err != nil {
		return fmt.Errorf("undo the touch test: %w", err)
	}
	_, err = j.change(ctx, "undo the touch test", at, func(tx *sql.Tx) (step, error) {
		before, err := touchOf(ctx, tx, id)
		switch {
		case err != nil:
			return step{}, err
		case !before.Undone.IsZero():
			return step{}, &InputError{"the touch test " + id, "was undone already"}
		}
		after := before
		after.Undone = fromMillis(at.UnixMilli())
		_, err = tx.ExecContext(ctx, `UPDATE touch SET undone = ? WHERE id = ?`, at.UnixMilli(), n)
		return step{id, before, after}, err
	})
	return err
}

func touchOf(ctx context.Context, from querier, id string) (Touch, error) {
	n, err := touchIDs.number(id)
	if err != nil {
		return Touch{}, err
	}
	all, err := queryRows(ctx, from, readTouch, selectTouch+`touch.id = ?`, n)
	if err == nil && len(all) == 0 {
		err = touchIDs.missing(id)
	}
	if err != nil {
		return Touch{}, err
	}
	return all[0], nil
}

const selectTouch = `SELECT touch.id, touch.coat, touch.at, touch.feel, touch.undone FROM touch JOIN coat ON coat.id = touch.coat WHERE `

func readTouch(scan scanner) (Touch, error) {
	var t Touch
	var id, coat, at int64
	var undone sql.NullInt64
	err := scan(&id, &coat, &at, &t.Feel, &undone)
	t.ID, t.Coat, t.At, t.Undone = touchIDs.of(id), coatIDs.of(coat), fromMillis(at), orZero(undone)
	return t, err
}

// Touches returns the touch tests of a coat that are not undone, in order of
// time.
func (j *Journal) Touches(ctx context.Context, coat string) ([]Touch, error) {
	n, err := coatIDs.number(coat)
	if err != nil {
		return nil, fmt.Errorf("read the touch tests: %w", err)
	}
	return query(ctx, j.db.Read, "read the touch tests", readTouch, selectTouch+`touch.coat = ? AND touch.undone IS NULL ORDER BY touch.at, touch.id`, n)
}

// AllTouches returns every touch test that is not undone, of coats that are not
// undone, in order of time.
func (j *Journal) AllTouches(ctx context.Context) ([]Touch, error) {
	return query(ctx, j.db.Read, "read the touch tests", readTouch, selectTouch+`coat.undone IS NULL AND touch.undone IS NULL ORDER BY touch.at, touch.id`)
}
