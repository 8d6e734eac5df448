package shop

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"recoat/drying"
	"recoat/internal/quantity"
	"recoat/internal/shop/compat"
	"recoat/internal/shop/schedule"
)

// CoatEdit is what to change of a coat that is recorded; nil leaves it as it
// is, so that two people who change different things lose nothing.
type CoatEdit struct {
	Product    *string         `json:"product,omitempty"` // id
	Version    *int64          `json:"version,omitempty"` // of the product; its newest if only that is given
	Applied    *time.Time      `json:"applied,omitempty"`
	Film       *drying.Microns `json:"film_um,omitempty"`
	FilmLeast  *drying.Microns `json:"film_least_um,omitempty"`
	FilmMost   *drying.Microns `json:"film_most_um,omitempty"`
	Method     *Method         `json:"method,omitempty"`
	Batch      *string         `json:"batch,omitempty"`
	ThinnedPct *float64        `json:"thinned_pct,omitempty"`
	Mix        *string         `json:"mix,omitempty"`
	Recipe     *string         `json:"recipe,omitempty"`
	Can        *string         `json:"can,omitempty"`
	UsedML     *float64        `json:"used_ml,omitempty"`
	AreaM2     *float64        `json:"area_m2,omitempty"`
	Abraded    *bool           `json:"abraded,omitempty"`
	Over       *compat.Class   `json:"over,omitempty"`
	Class      *compat.Class   `json:"class,omitempty"`
	Reason     *string         `json:"reason,omitempty"`
	Note       *string         `json:"note,omitempty"`
}

// swap puts the value that now holds into a field, and what was there into
// was. Where both are the same, now becomes nil.
func swap[T comparable](now, was **T, field *T) {
	switch {
	case *now == nil:
	case **now == *field:
		*now = nil
	default:
		old := *field
		*was, *field = &old, **now
	}
}

// into changes a coat, leaves in the edit only what differs, and returns the
// edit that takes it back.
func (e *CoatEdit) into(c *Coat) (was CoatEdit) {
	if e.Applied != nil {
		e.Applied = of(fromMillis(e.Applied.UnixMilli()))
	}
	swap(&e.Product, &was.Product, &c.Product.ID)
	swap(&e.Version, &was.Version, &c.Product.Version)
	swap(&e.Applied, &was.Applied, &c.Applied)
	swap(&e.Film, &was.Film, &c.Film)
	swap(&e.FilmLeast, &was.FilmLeast, &c.FilmLeast)
	swap(&e.FilmMost, &was.FilmMost, &c.FilmMost)
	swap(&e.Method, &was.Method, &c.Method)
	swap(&e.Batch, &was.Batch, &c.Batch)
	swap(&e.ThinnedPct, &was.ThinnedPct, &c.ThinnedPct)
	swap(&e.Mix, &was.Mix, &c.Mix)
	swap(&e.Recipe, &was.Recipe, &c.Recipe)
	swap(&e.Can, &was.Can, &c.Can)
	swap(&e.UsedML, &was.UsedML, &c.UsedML)
	swap(&e.AreaM2, &was.AreaM2, &c.AreaM2)
	swap(&e.Abraded, &was.Abraded, &c.Abraded)
	swap(&e.Over, &was.Over, &c.Over)
	swap(&e.Class, &was.Class, &c.Class)
	swap(&e.Reason, &was.Reason, &c.Reason)
	swap(&e.Note, &was.Note, &c.Note)
	return was
}

func of[T any](v T) *T { return &v }

// EditCoat changes what was recorded of a coat. What was there before stays in
// the record of changes, and UndoEdit brings it back.
func (j *Journal) EditCoat(ctx context.Context, id string, e CoatEdit, at time.Time) (Coat, error) {
	n, err := coatIDs.number(id)
	if err != nil {
		return Coat{}, fmt.Errorf("%s: %w", editCoat, err)
	}
	_, err = j.change(ctx, editCoat, at, func(tx *sql.Tx) (step, error) {
		c, err := coatOf(ctx, tx, id)
		switch {
		case err != nil:
			return step{}, err
		case !c.Undone.IsZero():
			return step{}, &InputError{"the coat " + id, "was undone: there is nothing to change"}
		}
		was := e.into(&c)
		if was == (CoatEdit{}) {
			return step{id, nil, nil}, errNothingToDo
		}
		if err := c.clean(at); err != nil {
			return step{}, err
		}
		if err := e.product(ctx, tx, &c, &was); err != nil {
			return step{}, err
		}
		if err := c.write(ctx, tx, n); err != nil {
			return step{}, err
		}
		return step{id, was, e}, nil
	})
	if err != nil {
		return Coat{}, err
	}
	return j.Coat(ctx, id)
}

// What edits are called in the record of changes.
const (
	editCoat  = "edit the coat"
	editPiece = "edit the piece"
	editPart  = "edit the part"

	setSchedule = "set the schedule"
)

// product takes the newest version where only a product was named, and refuses
// one that is not there.
func (e *CoatEdit) product(ctx context.Context, tx *sql.Tx, c *Coat, was *CoatEdit) error {
	if e.Product == nil && e.Version == nil {
		return nil
	}
	n, newest, err := newestVersion(ctx, tx, c.Product.ID)
	switch {
	case err != nil:
		return err
	case e.Version == nil && newest != c.Product.Version:
		was.Version, e.Version, c.Product.Version = of(c.Product.Version), of(newest), newest
	case e.Version != nil && (c.Product.Version < 1 || c.Product.Version > newest):
		return &InputError{"the product " + productIDs.of(n), fmt.Sprintf("has no version %d: 1 to %d", c.Product.Version, newest)}
	}
	return nil
}

// write writes what can be edited of a coat that is clean.
func (c *Coat) write(ctx context.Context, tx *sql.Tx, n int64) error {
	piece, part, err := partNumbers(c.Part.ID)
	if err != nil {
		return err
	}
	if err := once(ctx, tx, piece, part, c.Applied, n); err != nil {
		return err
	}
	touched, err := exists(ctx, tx, `SELECT 1 FROM touch WHERE coat = ? AND at < ? AND undone IS NULL`, n, c.Applied.UnixMilli())
	if err == nil && touched {
		err = &InputError{"the time of the coat", "lies after a touch test of it: undo the test first"}
	}
	if err != nil {
		return err
	}
	product, err := productIDs.number(c.Product.ID)
	if err != nil {
		return err
	}
	a := Application{Recipe: c.Recipe, Can: c.Can, Product: c.Product.ID, Batch: "-"}
	recipe, can, err := a.source(ctx, tx)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, `UPDATE coat SET product = ?, version = ?, applied = ?, film_um = ?, film_least_um = ?, film_most_um = ?, method = ?, batch = ?, thinned_pct = ?,
mix = ?, recipe = ?, can = ?, used_ml = ?, area_m2 = ?, abraded = ?, over = ?, class = ?, reason = ?, note = ? WHERE id = ?`,
		product, c.Product.Version, c.Applied.UnixMilli(), float64(c.Film), float64(c.FilmLeast), float64(c.FilmMost), string(c.Method), c.Batch, c.ThinnedPct,
		c.Mix, recipe, can, c.UsedML, c.AreaM2, c.Abraded, string(c.Over), string(c.Class), c.Reason, c.Note, n)
	return err
}

// UndoEdit takes an edit of a coat, a piece, a part or a schedule back, by the
// number of its change: what it changed becomes what it was. It is a change itself, and
// is refused where something of it was changed again since.
func (j *Journal) UndoEdit(ctx context.Context, seq int64, at time.Time) error {
	var found *Change
	err := j.changes(ctx, func(c Change) error { found = &c; return nil }, `seq = ?`, seq)
	switch {
	case err != nil:
		return err
	case found == nil:
		return fmt.Errorf("undo the edit: no change has the number %d: %w", seq, ErrNotFound)
	}
	if found.What == setSchedule {
		return j.undoSchedule(ctx, found, at)
	}
	if err := j.unchangedSince(ctx, found); err != nil {
		return err
	}
	switch found.What {
	case editCoat:
		return undo(found, func(e CoatEdit) error { _, err := j.EditCoat(ctx, found.Subject, e, at); return err })
	case editPiece:
		return undo(found, func(e PieceEdit) error { _, err := j.EditPiece(ctx, found.Subject, e, at); return err })
	case editPart:
		return undo(found, func(e PartEdit) error { _, err := j.EditPart(ctx, found.Subject, e, at); return err })
	}
	return &InputError{fmt.Sprintf("change %d", seq), "is no edit: it says " + quantity.Quote(found.What)}
}

// undoSchedule gives a part the steps back that it had before a change, which
// must be the newest of its schedule.
func (j *Journal) undoSchedule(ctx context.Context, c *Change, at time.Time) error {
	err := j.changes(ctx, func(later Change) error {
		return &InputError{fmt.Sprintf("change %d", c.Seq), fmt.Sprintf("cannot be undone: change %d set the schedule again", later.Seq)}
	}, `subject = ? AND what = ? AND seq > ? ORDER BY seq`, c.Subject, c.What, c.Seq)
	if err != nil {
		return err
	}
	return undo(c, func(steps []schedule.Step) error { return j.SetSchedule(ctx, c.Subject, "", steps, at) })
}

func undo[E any](c *Change, edit func(E) error) error {
	var before E
	if err := json.Unmarshal(c.Before, &before); err != nil {
		return fmt.Errorf("undo the edit: %w", err)
	}
	return edit(before)
}

// unchangedSince refuses to undo an edit where a later one of the same subject
// changed one of the same fields.
func (j *Journal) unchangedSince(ctx context.Context, c *Change) error {
	var fields map[string]json.RawMessage
	if err := json.Unmarshal(c.After, &fields); err != nil {
		return &InputError{fmt.Sprintf("change %d", c.Seq), "is no edit: it says " + quantity.Quote(c.What)}
	}
	return j.changes(ctx, func(later Change) error {
		var again map[string]json.RawMessage
		if err := json.Unmarshal(later.After, &again); err != nil {
			return errors.Join(errors.New("undo the edit"), err)
		}
		var both []string
		for field := range again {
			if _, ok := fields[field]; ok {
				both = append(both, field)
			}
		}
		if len(both) > 0 {
			return &InputError{fmt.Sprintf("change %d", c.Seq), fmt.Sprintf("cannot be undone: change %d changed %s again", later.Seq, strings.Join(both, " and "))}
		}
		return nil
	}, `subject = ? AND what = ? AND seq > ? ORDER BY seq`, c.Subject, c.What, c.Seq)
}
