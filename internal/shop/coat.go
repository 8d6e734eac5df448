package shop

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"time"

	"recoat/drying"
	"recoat/internal/shop/compat"
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
	Step    int            // the id of the schedule's step; 0: whichever comes next, if any; NoStep: none
	Film    drying.Microns // wet; 0: not measured
	// FilmLeast and FilmMost are between what a gauge says that the film lies;
	// both 0: no gauge. Film is their middle where it is 0.
	FilmLeast, FilmMost drying.Microns
	Method              Method
	Batch               string  // of the can
	ThinnedPct          float64 // thinner, as a share of the paint's volume
	Mix                 string  // what was mixed, and how much
	Recipe              string  // the id of the mix; empty: none
	Can                 string  // the id of the can it came out of; empty: not known
	UsedML              float64
	AreaM2              float64      // 0: not known
	Abraded             bool         // what lies below was abraded first
	Over                compat.Class // of what lies below, as told; empty: as the journal knows
	Class               compat.Class // of this one, as told; empty: as the label says
	Warned              string       // what was warned of, a line for each
	Reason              string       // why that was passed over
	Note                string
}

// NoStep is the step of a coat that belongs to none of its part's schedule.
const NoStep = -1

// Coat is one product put on one part at one instant.
type Coat struct {
	ID       string         `json:"id"`
	PieceID  string         `json:"piece"`
	Piece    string         `json:"piece_name"`
	Part     Part           `json:"part"`    // as it is now
	Product  Product        `json:"product"` // as it was then
	Room     string         `json:"room"`    // where it was put on
	Applied  time.Time      `json:"applied"`
	Step     int            `json:"step"`    // the id of its step of the schedule; 0: none
	StepName string         `json:"-"`       // such as "colour 1 of 2"; OpenCoats alone gives it
	Film     drying.Microns `json:"film_um"` // wet; 0: not measured
	// FilmLeast to FilmMost is what a gauge said; both 0: no gauge.
	FilmLeast  drying.Microns `json:"film_least_um"`
	FilmMost   drying.Microns `json:"film_most_um"`
	Method     Method         `json:"method"`
	Batch      string         `json:"batch"`
	ThinnedPct float64        `json:"thinned_pct"` // thinner, as a share of the paint's volume
	Mix        string         `json:"mix"`
	Recipe     string         `json:"recipe"`  // the id of a mix; empty: none
	Can        string         `json:"can"`     // empty: not known
	UsedML     float64        `json:"used_ml"` // out of the can; 0: not known
	AreaM2     float64        `json:"area_m2"` // 0: not known
	Abraded    bool           `json:"abraded"` // what lies below was, before it
	Over       compat.Class   `json:"over"`    // of what lies below, as told
	Class      compat.Class   `json:"class"`   // of this one, as told
	Warned     string         `json:"warned"`  // what was warned of, a line for each
	Reason     string         `json:"reason"`  // why that was passed over
	Note       string         `json:"note"`
	Recorded   time.Time      `json:"recorded"`
	Undone     time.Time      `json:"undone,omitzero"` // zero: it holds
}

// ApplyCoat records a coat. Its part must be in a room. It moves the part's
// schedule on, and opens the reminder of its rags where they are oily.
func (j *Journal) ApplyCoat(ctx context.Context, a Application, at time.Time) (Coat, error) {
	if err := a.clean(at); err != nil {
		return Coat{}, err
	}
	id, err := j.change(ctx, "apply the coat", at, func(tx *sql.Tx) (step, error) {
		n, err := a.insert(ctx, tx, at)
		if err != nil {
			return step{}, err
		}
		c, err := coatOf(ctx, tx, coatIDs.of(n))
		if err == nil && oily(c.Product.Label) {
			_, err = tx.ExecContext(ctx, `INSERT INTO reminder(coat, opened) VALUES (?, ?)`, n, at.UnixMilli())
		}
		return step{c.ID, nil, c}, err
	})
	if err != nil {
		return Coat{}, err
	}
	return j.Coat(ctx, id)
}

func (a *Application) clean(at time.Time) error {
	if err := a.gauged(); err != nil {
		return err
	}
	c := Coat{
		Applied: a.Applied, Film: a.Film, FilmLeast: a.FilmLeast, FilmMost: a.FilmMost, Method: a.Method, Batch: a.Batch, ThinnedPct: a.ThinnedPct,
		Mix: a.Mix, UsedML: a.UsedML, AreaM2: a.AreaM2, Over: a.Over, Class: a.Class, Warned: a.Warned, Reason: a.Reason, Note: a.Note,
	}
	if err := c.clean(at); err != nil {
		return err
	}
	a.Batch, a.Mix, a.Warned, a.Reason, a.Note = c.Batch, c.Mix, c.Warned, c.Reason, c.Note
	return nil
}

// gauged takes the middle of what a gauge says as the film where it was not
// told.
func (a *Application) gauged() error {
	switch least, most := a.FilmLeast, a.FilmMost; {
	case least == 0 && most == 0:
	case !(least >= 0 && most > least && most <= ThickestFilm):
		return &InputError{"the gauge", fmt.Sprintf("says %v to %v µm, which cannot be: give the last wet tooth and the next dry one", float64(least), float64(most))}
	case a.Film == 0:
		a.Film = (least + most) / 2
	}
	return nil
}

// clean checks what can be told of a coat, and takes the space around texts
// away.
func (c *Coat) clean(at time.Time) error {
	err := firstError(
		func() error { return checkTime("the time of the coat", c.Applied, at) },
		func() error { return checkFilm(c.Film) },
		func() error { return checkUsed(c.UsedML) },
		func() error { return within("the area", c.AreaM2, 0, mostArea, "m²") },
		func() error { return within("the thinner", c.ThinnedPct, 0, mostThinned, "%") },
	)
	if err != nil {
		return err
	}
	if c.Method != "" && !slices.Contains(Methods(), c.Method) {
		return &InputError{"the method", "is none that is known: brush, roller, spray, pad or wipe"}
	}
	for field, class := range map[string]compat.Class{"what lies below": c.Over, "what the coat is": c.Class} {
		if class == "" {
			continue
		}
		if _, err := compat.ParseClass(string(class)); err != nil {
			return &InputError{field, err.Error()}
		}
	}
	return c.cleanTexts()
}

func (c *Coat) cleanTexts() error {
	var err error
	if c.Batch, err = cleanText("the batch", c.Batch, LongestName); err != nil {
		return err
	}
	if c.Mix, err = cleanText("the mix", c.Mix, LongestNote); err != nil {
		return err
	}
	if c.Reason, err = cleanText("the reason", c.Reason, LongestNote); err != nil {
		return err
	}
	if c.Warned, err = cleanLines("the warnings", c.Warned, longestWarned); err != nil {
		return err
	}
	c.Note, err = cleanText("the note", c.Note, LongestNote)
	return err
}

// What a coat may be.
const (
	mostArea      = 1000.0 // m²
	mostThinned   = 200.0  // %
	longestWarned = 8000   // runes
)

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
	if err := once(ctx, tx, piece, number, a.Applied, 0); err != nil {
		return 0, err
	}
	in, err := a.step(ctx, tx, piece, number)
	if err != nil {
		return 0, err
	}
	result, err := tx.ExecContext(ctx, `INSERT INTO coat(piece, part, product, version, room, applied, film_um, method, batch, mix, recipe, can, used_ml, abraded, note, recorded,
step, film_least_um, film_most_um, area_m2, thinned_pct, over, class, warned, reason)
VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		piece, number, product, version, part.Room, a.Applied.UnixMilli(), float64(a.Film), string(a.Method), a.Batch, a.Mix, recipe, can, a.UsedML, a.Abraded, a.Note, at.UnixMilli(),
		in, float64(a.FilmLeast), float64(a.FilmMost), a.AreaM2, a.ThinnedPct, string(a.Over), string(a.Class), a.Warned, a.Reason)
	if err != nil {
		return 0, err
	}
	return result.LastInsertId()
}

// once refuses a second coat on a part at the very same time; except is the
// number of a coat that does not count.
func once(ctx context.Context, tx *sql.Tx, piece, part int64, applied time.Time, except int64) error {
	twice, err := exists(ctx, tx, `SELECT 1 FROM coat WHERE piece = ? AND part = ? AND applied = ? AND undone IS NULL AND id <> ?`, piece, part, applied.UnixMilli(), except)
	if err == nil && twice {
		err = &InputError{"the coat", "is recorded already: the part has one put on at that very time"}
	}
	return err
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

// changeCoat changes whether a coat was undone, or its note.
func (j *Journal) changeCoat(ctx context.Context, what, id string, at time.Time, change func(*Coat) error) error {
	n, err := coatIDs.number(id)
	if err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	_, err = j.change(ctx, what, at, func(tx *sql.Tx) (step, error) {
		before, err := coatOf(ctx, tx, id)
		if err != nil {
			return step{}, err
		}
		after := before
		if err := change(&after); err != nil {
			return step{id, before, before}, err
		}
		_, err = tx.ExecContext(ctx, `UPDATE coat SET undone = ?, note = ? WHERE id = ?`, orNull(after.Undone), after.Note, n)
		return step{id, before, after}, err
	})
	return err
}
