package shop

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strings"
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
	product, err := productIDs.number(a.Product)
	if err != nil {
		return 0, err
	}
	var version sql.NullInt64
	if err := tx.QueryRowContext(ctx, `SELECT max(version) FROM product WHERE id = ?`, product).Scan(&version); err != nil {
		return 0, err
	}
	if !version.Valid {
		return 0, productIDs.missing(a.Product)
	}
	twice, err := exists(ctx, tx, `SELECT 1 FROM coat WHERE piece = ? AND part = ? AND applied = ? AND undone IS NULL`, piece, number, a.Applied.UnixMilli())
	switch {
	case err != nil:
		return 0, err
	case twice:
		return 0, &InputError{"the coat", "is recorded already: the part has one put on at that very time"}
	}
	result, err := tx.ExecContext(ctx, `INSERT INTO coat(piece, part, product, version, room, applied, film_um, method, batch, mix, recorded) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		piece, number, product, version.Int64, part.Room, a.Applied.UnixMilli(), float64(a.Film), string(a.Method), a.Batch, a.Mix, at.UnixMilli())
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

// CoatFilter picks coats; what is zero picks all.
type CoatFilter struct {
	Room     string // where they were put on
	Piece    string
	Part     string
	From, To time.Time // From <= applied < To
	Undone   bool      // undone ones too
}

// Coats returns the coats that the filter picks, in the order in which they
// were put on.
func (j *Journal) Coats(ctx context.Context, f CoatFilter) ([]Coat, error) {
	where, args, err := f.condition()
	if err != nil {
		return nil, err
	}
	return query(ctx, j.db.Read, "read the coats", readCoat, selectCoat+` WHERE `+where+coatOrder, args...)
}

func (f CoatFilter) condition() (where string, args []any, err error) {
	terms := []string{"TRUE"}
	add := func(term string, values ...any) {
		terms, args = append(terms, term), append(args, values...)
	}
	if f.Room != "" {
		add("coat.room = ?", f.Room)
	}
	if f.Piece != "" {
		n, err := pieceIDs.number(f.Piece)
		if err != nil {
			return "", nil, err
		}
		add("coat.piece = ?", n)
	}
	if f.Part != "" {
		piece, number, err := partNumbers(f.Part)
		if err != nil {
			return "", nil, err
		}
		add("coat.piece = ? AND coat.part = ?", piece, number)
	}
	if !f.From.IsZero() {
		add("coat.applied >= ?", f.From.UnixMilli())
	}
	if !f.To.IsZero() {
		add("coat.applied < ?", f.To.UnixMilli())
	}
	if !f.Undone {
		add("coat.undone IS NULL")
	}
	return strings.Join(terms, " AND "), args, nil
}

// Coat returns one coat, undone or not.
func (j *Journal) Coat(ctx context.Context, id string) (Coat, error) {
	c, err := coatOf(ctx, j.db.Read, id)
	if err != nil {
		return Coat{}, fmt.Errorf("read the coat: %w", err)
	}
	return c, nil
}

// OpenCoats returns the coats that are drying in a room, or that were left to:
// of every part that is in the room now, the newest coat that is not undone.
func (j *Journal) OpenCoats(ctx context.Context, room string) ([]Coat, error) {
	return query(ctx, j.db.Read, "read the open coats", readCoat, selectCoat+`
WHERE part.room = ? AND coat.undone IS NULL AND NOT EXISTS (
	SELECT 1 FROM coat AS later
	WHERE later.piece = coat.piece AND later.part = coat.part AND later.undone IS NULL
	AND (later.applied, later.id) > (coat.applied, coat.id))`+coatOrder, room)
}

const (
	selectCoat = `SELECT coat.id, piece.name, coat.room, coat.applied, coat.film_um, coat.method, coat.batch, coat.mix, coat.recorded, coat.undone, ` +
		partColumns + `, ` + productColumns + ` FROM coat
JOIN piece ON piece.id = coat.piece
JOIN part ON part.piece = coat.piece AND part.number = coat.part
JOIN product ON product.id = coat.product AND product.version = coat.version`
	coatOrder = ` ORDER BY coat.applied, coat.id`
)

func readCoat(scan scanner) (Coat, error) {
	var c Coat
	var id, applied, recorded, piece, number int64
	var undone sql.NullInt64
	var product productRow
	into := []any{&id, &c.Piece, &c.Room, &applied, &c.Film, &c.Method, &c.Batch, &c.Mix, &recorded, &undone}
	into = append(into, c.Part.fields(&piece, &number)...)
	if err := scan(append(into, product.fields()...)...); err != nil {
		return Coat{}, err
	}
	c.ID, c.PieceID, c.Part.ID = coatIDs.of(id), pieceIDs.of(piece), partID(piece, number)
	c.Applied, c.Recorded = fromMillis(applied), fromMillis(recorded)
	if undone.Valid {
		c.Undone = fromMillis(undone.Int64)
	}
	var err error
	c.Product, err = product.product()
	return c, err
}

func coatOf(ctx context.Context, from querier, id string) (Coat, error) {
	n, err := coatIDs.number(id)
	if err != nil {
		return Coat{}, err
	}
	coats, err := queryRows(ctx, from, readCoat, selectCoat+` WHERE coat.id = ?`, n)
	if err == nil && len(coats) == 0 {
		err = coatIDs.missing(id)
	}
	if err != nil {
		return Coat{}, err
	}
	return coats[0], nil
}
