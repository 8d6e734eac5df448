package alert

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"
)

// Wish is that somebody asked to be told something, at night too: that a room
// is fit again or, where Coat is set, that the coat has reached a stage.
type Wish struct {
	ID    string
	Room  string        // identifier
	Coat  string        // identifier; empty: the wish is for the room to be fit
	Stage string        // that the coat is to reach, by its name
	Ahead time.Duration // before the likely time; 0: once it is reached
	Made  time.Time
}

const (
	mostWishes = 64
	// LongestAhead is the longest that somebody can be told ahead.
	LongestAhead = 24 * time.Hour
	wishLasts    = 30 * 24 * time.Hour
)

// ErrTooManyWishes says that no other wish can be kept.
var ErrTooManyWishes = errors.New("too many wishes to be told wait already: take one back first")

func (w Wish) check() error {
	switch {
	case w.ID == "" || w.Room == "":
		return errors.New("a wish needs an identifier and a room")
	case w.Coat == "" && (w.Stage != "" || w.Ahead != 0), w.Coat != "" && w.Stage == "":
		return errors.New("a wish for a coat needs its stage, one for a room has none")
	case w.Ahead < 0 || w.Ahead > LongestAhead:
		return fmt.Errorf("told ahead by %s: from 0 to %s", span(w.Ahead), span(LongestAhead))
	}
	return nil
}

// AddWish keeps a wish. One that is kept already is left as it is.
func (o *Outbox) AddWish(ctx context.Context, w Wish) error {
	if err := w.check(); err != nil {
		return fmt.Errorf("ask to be told: %w", err)
	}
	err := o.db.Tx(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, `DELETE FROM wish WHERE made<?`, millis(w.Made.Add(-wishLasts))); err != nil {
			return err
		}
		var all, same int32
		if err := tx.QueryRowContext(ctx, `SELECT count(*), count(*) FILTER (WHERE room=? AND coat=? AND stage=? AND ahead=?)
			FROM wish WHERE granted=0`, w.Room, w.Coat, w.Stage, w.Ahead.Milliseconds()).Scan(&all, &same); err != nil {
			return err
		}
		switch {
		case same > 0:
			return nil
		case all >= mostWishes:
			return ErrTooManyWishes
		}
		_, err := tx.ExecContext(ctx, `INSERT INTO wish(id, room, coat, stage, ahead, made, granted) VALUES (?,?,?,?,?,?,0)`,
			w.ID, w.Room, w.Coat, w.Stage, w.Ahead.Milliseconds(), millis(w.Made))
		return err
	})
	if err != nil {
		return fmt.Errorf("ask to be told: %w", err)
	}
	return nil
}

// DropWish takes a wish back, and reports whether there was one.
func (o *Outbox) DropWish(ctx context.Context, id string) (bool, error) {
	result, err := o.db.Write.ExecContext(ctx, `DELETE FROM wish WHERE id=? AND granted=0`, id)
	if err != nil {
		return false, fmt.Errorf("take a wish back: %w", err)
	}
	n, err := result.RowsAffected()
	return n > 0, err
}

// Wishes returns those that wait to be granted, oldest first.
func (o *Outbox) Wishes(ctx context.Context) ([]Wish, error) {
	rows, err := o.db.Read.QueryContext(ctx, `SELECT id, room, coat, stage, ahead, made FROM wish WHERE granted=0 ORDER BY made, id`)
	return collect(rows, err, func(rows *sql.Rows) (w Wish, err error) {
		var ahead, made int64
		err = rows.Scan(&w.ID, &w.Room, &w.Coat, &w.Stage, &ahead, &made)
		w.Ahead, w.Made = time.Duration(ahead)*time.Millisecond, fromMillis(made)
		return w, err
	})
}

// grant notes, with the decision itself, that a wish is being told.
func grant(ctx context.Context, tx *sql.Tx, t Transition) error {
	if t.Wish == "" || t.Cause != First {
		return nil
	}
	_, err := tx.ExecContext(ctx, `UPDATE wish SET granted=? WHERE id=?`, millis(t.At), t.Wish)
	return err
}
