package shop

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"time"

	"recoat/drying"
)

// Method is how a coat was put on.
type Method string

// The methods. The empty one is not known.
const (
	Brush  Method = "brush"
	Roller Method = "roller"
	Spray  Method = "spray"
	Pad    Method = "pad"
	Wipe   Method = "wipe"
)

// Methods returns every method.
func Methods() []Method { return []Method{Brush, Roller, Spray, Pad, Wipe} }

// Application is a coat as a finisher tells of it.
type Application struct {
	Part    string // id
	Product string // id; its newest version is meant
	Applied time.Time
	Film    drying.Microns // wet; 0: not measured
	Method  Method
	Batch   string // of the can
	Mix     string // what was mixed or thinned, and how much
	Recipe  string // the id of the mix; empty: none
	Can     string // the id of the can it came out of; empty: not known
	UsedML  float64
	Abraded bool   // what lies below was abraded first
	Note    string // such as why a warning was passed over
}

// Coat is one product put on one part at one instant.
type Coat struct {
	ID       string         `json:"id"`
	PieceID  string         `json:"piece"`
	Piece    string         `json:"piece_name"`
	Part     Part           `json:"part"`    // as it is now
	Product  Product        `json:"product"` // as it was then
	Room     string         `json:"room"`    // where it was put on
	Applied  time.Time      `json:"applied"`
	Film     drying.Microns `json:"film_um"` // wet; 0: not measured
	Method   Method         `json:"method"`
	Batch    string         `json:"batch"`
	Mix      string         `json:"mix"`
	Recipe   string         `json:"recipe"`  // the id of a mix; empty: none
	Can      string         `json:"can"`     // empty: not known
	UsedML   float64        `json:"used_ml"` // out of the can; 0: not known
	Abraded  bool           `json:"abraded"` // what lies below was, before it
	Note     string         `json:"note"`
	Recorded time.Time      `json:"recorded"`
	Undone   time.Time      `json:"undone,omitzero"` // zero: it holds
}

// ApplyCoat records a coat. Its part must be in a room.
func (j *Journal) ApplyCoat(ctx context.Context, a Application, at time.Time) (Coat, error) {
	if err := a.clean(at); err != nil {
		return Coat{}, err
	}
	var c Coat
	err := j.change(ctx, "apply the coat", at, func(tx *sql.Tx) (step, error) {
		id, err := a.insert(ctx, tx, at)
		if err != nil {
			return step{}, err
		}
		c, err = coatOf(ctx, tx, coatIDs.of(id))
		return step{c.ID, nil, c}, err
	})
	if err != nil {
		return Coat{}, err
	}
	return c, nil
}

func (a *Application) clean(at time.Time) error {
	if err := checkTime("the time of the coat", a.Applied, at); err != nil {
		return err
	}
	if err := checkFilm(a.Film); err != nil {
		return err
	}
	if err := checkUsed(a.UsedML); err != nil {
		return err
	}
	if a.Method != "" && !slices.Contains(Methods(), a.Method) {
		return &InputError{"the method", "is none that is known: brush, roller, spray, pad or wipe"}
	}
	var err error
	if a.Batch, err = cleanText("the batch", a.Batch, LongestName); err != nil {
		return err
	}
	if a.Mix, err = cleanText("the mix", a.Mix, LongestNote); err != nil {
		return err
	}
	a.Note, err = cleanText("the note", a.Note, LongestNote)
	return err
}

func (a *Application) insert(ctx context.Context, tx *sql.Tx, at time.Time) (int64, error) {
	part, err := partOf(ctx, tx, a.Part)
	if err != nil {
		return 0, err
	}
	if part.Room == "" {
		return 0, &InputError{"the part " + part.Name, "is in no room: say in which it dries"}
	}
	piece, number, err := partNumbers(a.Part)
	if err != nil {
		return 0, err
	}
	product, version, err := newestVersion(ctx, tx, a.Product)
	if err != nil {
		return 0, err
	}
	recipe, can, err := a.source(ctx, tx)
	if err != nil {
		return 0, err
	}
	twice, err := exists(ctx, tx, `SELECT 1 FROM coat WHERE piece = ? AND part = ? AND applied = ? AND undone IS NULL`, piece, number, a.Applied.UnixMilli())
	switch {
	case err != nil:
		return 0, err
	case twice:
		return 0, &InputError{"the coat", "is recorded already: the part has one put on at that very time"}
	}
	result, err := tx.ExecContext(ctx, `INSERT INTO coat(piece, part, product, version, room, applied, film_um, method, batch, mix, recipe, can, used_ml, abraded, note, recorded)
VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		piece, number, product, version, part.Room, a.Applied.UnixMilli(), float64(a.Film), string(a.Method), a.Batch, a.Mix, recipe, can, a.UsedML, a.Abraded, a.Note, at.UnixMilli())
	if err != nil {
		return 0, err
	}
	return result.LastInsertId()
}

// source finds the mix and the can; the can must hold the product, and gives
// its batch where none was told.
func (a *Application) source(ctx context.Context, tx *sql.Tx) (recipe, can sql.NullInt64, err error) {
	if a.Recipe != "" {
		if _, err = mixOf(ctx, tx, a.Recipe); err != nil {
			return recipe, can, err
		}
	}
	if a.Can != "" {
		c, err := canOf(ctx, tx, a.Can)
		if err != nil {
			return recipe, can, err
		}
		if c.Product != a.Product {
			return recipe, can, &InputError{"the can " + c.ID, "holds " + c.Name + ": name one of the product that was put on"}
		}
		if a.Batch == "" {
			a.Batch = c.Batch
		}
	}
	if recipe, err = mixIDs.orNull(a.Recipe); err != nil {
		return recipe, can, err
	}
	can, err = canIDs.orNull(a.Can)
	return recipe, can, err
}

// UndoCoat marks a coat as never put on. It stays in the journal.
func (j *Journal) UndoCoat(ctx context.Context, id string, at time.Time) error {
	return j.changeCoat(ctx, "undo the coat", id, at, func(c *Coat) error {
		if !c.Undone.IsZero() {
			return &InputError{"the coat " + id, "was undone already"}
		}
		c.Undone = fromMillis(at.UnixMilli())
		return nil
	})
}

// NoteCoat puts a note on a coat in place of the one that it had; the record of
// changes keeps that one.
func (j *Journal) NoteCoat(ctx context.Context, id, note string, at time.Time) error {
	note, err := cleanText("the note", note, LongestNote)
	if err != nil {
		return err
	}
	return j.changeCoat(ctx, "note on the coat", id, at, func(c *Coat) error {
		if c.Note == note {
			return errNothingToDo
		}
		c.Note = note
		return nil
	})
}

// changeCoat changes what can be changed of a coat: its note, and whether it
// was undone.
func (j *Journal) changeCoat(ctx context.Context, what, id string, at time.Time, change func(*Coat) error) error {
	n, err := coatIDs.number(id)
	if err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	return j.change(ctx, what, at, func(tx *sql.Tx) (step, error) {
		before, err := coatOf(ctx, tx, id)
		if err != nil {
			return step{}, err
		}
		after := before
		if err := change(&after); err != nil {
			return step{}, err
		}
		undone := orNull(after.Undone)
		_, err = tx.ExecContext(ctx, `UPDATE coat SET undone = ?, note = ? WHERE id = ?`, undone, after.Note, n)
		return step{id, before, after}, err
	})
}
