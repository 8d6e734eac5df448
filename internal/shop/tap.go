package shop

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"regexp"
	"time"

	"recoat/internal/quantity"
)

// Tap says where a change comes from: who made it, and which tap on a page it
// was. The same tap again is the same change: it is taken once, also after a
// restart or a restore.
type Tap struct {
	ID   string    // made by the page: 8 to 64 letters, digits or '-'; empty: none
	Made time.Time // when, on the page's own clock; zero: not told
	Who  string    // a person's name; empty: the finisher
}

type tapKey struct{}

// WithTap returns a context under which the next change to the journal is that
// of a tap. One tap is one change.
func WithTap(ctx context.Context, t Tap) context.Context {
	return context.WithValue(ctx, tapKey{}, t)
}

var tapForm = regexp.MustCompile(`^[A-Za-z0-9-]{8,64}$`)

// tapOf returns the tap of a context, the zero one where there is none.
func tapOf(ctx context.Context, at time.Time) (Tap, error) {
	t, _ := ctx.Value(tapKey{}).(Tap)
	if t.ID != "" && !tapForm.MatchString(t.ID) {
		return Tap{}, &InputError{"the tap's id", "is not 8 to 64 letters, digits or '-'"}
	}
	if !t.Made.IsZero() {
		if err := checkTime("the time of the tap", t.Made, at); err != nil {
			return Tap{}, err
		}
	}
	var err error
	t.Who, err = cleanText("the name of who did it", t.Who, LongestName)
	return t, err
}

// taken reports whether the tap is in the record of changes already, and what
// it changed.
func (t Tap) taken(ctx context.Context, tx *sql.Tx, what string) (subject string, taken bool, err error) {
	if t.ID == "" {
		return "", false, nil
	}
	var then string
	err = tx.QueryRowContext(ctx, `SELECT subject, what FROM change WHERE tap = ? AND tap <> ''`, t.ID).Scan(&subject, &then)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return "", false, nil
	case err != nil:
		return "", false, err
	case then != what:
		return "", false, &InputError{"the tap " + quantity.Quote(t.ID), fmt.Sprintf("was taken before, to %s: give each tap an id of its own", then)}
	}
	return subject, true, nil
}
