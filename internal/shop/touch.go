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
	ID   string    `json:"id"`
	Coat string    `json:"coat"`
	At   time.Time `json:"at"`
	Feel Feel      `json:"feel"`
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
	err := j.change(ctx, "add the touch test", at, func(tx *sql.Tx) (step, error) {
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
		id, err := result.LastInsertId()
		t.ID = touchIDs.of(id)
		return step{t.ID, nil, t}, err
	})
	if err != nil {
		return Touch{}, err
	}
	return t, nil
}

// Touches returns the touch tests of a coat, in order of time.
func (j *Journal) Touches(ctx context.Context, coat string) ([]Touch, error) {
	n, err := coatIDs.number(coat)
	if err != nil {
		return nil, fmt.Errorf("read the touch tests: %w", err)
	}
	return query(ctx, j.db.Read, "read the touch tests", func(scan scanner) (Touch, error) {
		t := Touch{Coat: coat}
		var id, at int64
		err := scan(&id, &at, &t.Feel)
		t.ID, t.At = touchIDs.of(id), fromMillis(at)
		return t, err
	}, `SELECT id, at, feel FROM touch WHERE coat = ? ORDER BY at, id`, n)
}

// AllTouches returns every touch test of coats that are not undone, in order of
// time.
func (j *Journal) AllTouches(ctx context.Context) ([]Touch, error) {
	return query(ctx, j.db.Read, "read the touch tests", func(scan scanner) (Touch, error) {
		var t Touch
		var id, coat, at int64
		err := scan(&id, &coat, &at, &t.Feel)
		t.ID, t.Coat, t.At = touchIDs.of(id), coatIDs.of(coat), fromMillis(at)
		return t, err
	}, `SELECT touch.id, touch.coat, touch.at, touch.feel FROM touch JOIN coat ON coat.id = touch.coat
WHERE coat.undone IS NULL ORDER BY touch.at, touch.id`)
}
