package shop

import (
	"context"
	"database/sql"
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
	if a.Method != "" && !slices.Contains(Methods(), a.Method) {
		return &InputError{"the method", "is none that is known: brush, roller, spray, pad or wipe"}
	}
	var err error
	if a.Batch, err = cleanText("the batch", a.Batch, LongestName); err != nil {
		return err
	}
	a.Mix, err = cleanText("the mix", a.Mix, LongestNote)
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
	twice, err := exists(ctx, tx, `SELECT 1 FROM coat WHERE piece = ? AND part = ? AND applied = ? AND undone IS NULL`, piece, number, a.Applied.UnixMilli())
	switch {
	case err != nil:
		return 0, err
	case twice:
		return 0, &InputError{"the coat", "is recorded already: the part has one put on at that very time"}
	}
	result, err := tx.ExecContext(ctx, `INSERT INTO coat(piece, part, product, version, room, applied, film_um, method, batch, mix, recorded) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		piece, number, product, version, part.Room, a.Applied.UnixMilli(), float64(a.Film), string(a.Method), a.Batch, a.Mix, at.UnixMilli())
	if err != nil {
		return 0, err
	}
	return result.LastInsertId()
}

// UndoCoat marks a coat as never put on. It stays in the journal.
func (j *Journal) UndoCoat(ctx context.Context, id string, at time.Time) error {
	n, err := coatIDs.number(id)
	if err != nil {
		return err
	}
	return j.change(ctx, "undo the coat", at, func(tx *sql.Tx) (step, error) {
		before, err := coatOf(ctx, tx, id)
		switch {
		case err != nil:
			return step{}, err
		case !before.Undone.IsZero():
			return step{}, &InputError{"the coat " + id, "was undone already"}
		}
		after := before
		after.Undone = fromMillis(at.UnixMilli())
		_, err = tx.ExecContext(ctx, `UPDATE coat SET undone = ? WHERE id = ?`, at.UnixMilli(), n)
		return step{id, before, after}, err
	})
}
