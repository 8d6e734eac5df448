package shop

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"time"

	"recoat/internal/shop/schedule"
)

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
	return query(ctx, j.db.Read, "read the coats", coatReader(), selectCoat+` WHERE `+where+coatOrder, args...)
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
// Pieces that were delivered, or are in the archive, are not in the room.
func (j *Journal) OpenCoats(ctx context.Context, room string) ([]Coat, error) {
	coats, err := query(ctx, j.db.Read, "read the open coats", coatReader(), selectCoat+`
WHERE part.room = ? AND coat.undone IS NULL AND piece.archived IS NULL AND piece.delivered IS NULL AND NOT EXISTS (
	SELECT 1 FROM coat AS later
	WHERE later.piece = coat.piece AND later.part = coat.part AND later.undone IS NULL
	AND (later.applied, later.id) > (coat.applied, coat.id))`+coatOrder, room)
	if err == nil {
		err = j.nameSteps(ctx, coats)
	}
	return coats, err
}

// nameSteps says which step of its schedule each coat is. A schedule that many
// parts have is read once.
func (j *Journal) nameSteps(ctx context.Context, coats []Coat) error {
	read := map[string]schedule.Part{}
	for i := range coats {
		c := &coats[i]
		if c.Step == 0 {
			continue
		}
		piece, number, err := partNumbers(c.Part.ID)
		if err != nil {
			return err
		}
		texts, err := query(ctx, j.db.Read, "read the schedule", readText, `SELECT steps FROM schedule WHERE piece = ? AND part = ?`, piece, number)
		if err != nil || len(texts) == 0 {
			return err
		}
		p, known := read[texts[0]]
		if !known {
			if p.Steps, err = schedule.ReadSteps(strings.NewReader(texts[0])); err != nil {
				return fmt.Errorf("the schedule of %s: %w", c.Part.ID, err)
			}
			read[texts[0]] = p
		}
		c.StepName = p.Count(c.Step)
	}
	return nil
}

func readText(scan scanner) (s string, err error) {
	err = scan(&s)
	return s, err
}

const (
	selectCoat = `SELECT coat.id, piece.name, coat.room, coat.applied, coat.film_um, coat.method, coat.batch, coat.mix, coat.recipe, coat.can, coat.used_ml, coat.abraded, coat.note, coat.recorded, coat.undone, coat.step, coat.film_least_um, coat.film_most_um, coat.area_m2, coat.thinned_pct, coat.over, coat.class, coat.warned, coat.reason, ` +
		partColumns + `, ` + productColumns + ` FROM coat
JOIN piece ON piece.id = coat.piece
JOIN part ON part.piece = coat.piece AND part.number = coat.part
JOIN product ON product.id = coat.product AND product.version = coat.version`
	coatOrder = ` ORDER BY coat.applied, coat.id`
)

// coatReader returns what reads the rows of selectCoat. It reads the label of
// each version of a product once, which coats of it then share.
func coatReader() func(scanner) (Coat, error) {
	labels := map[[2]int64]Product{}
	return func(scan scanner) (Coat, error) {
		c, product, err := scanCoat(scan)
		if err != nil {
			return Coat{}, err
		}
		version := [2]int64{product.number, product.version}
		if _, known := labels[version]; !known {
			if labels[version], err = product.product(); err != nil {
				return Coat{}, err
			}
		}
		c.Product = labels[version]
		return c, nil
	}
}

func scanCoat(scan scanner) (Coat, productRow, error) {
	var c Coat
	var id, applied, recorded, piece, number int64
	var undone, recipe, can sql.NullInt64
	var product productRow
	into := []any{&id, &c.Piece, &c.Room, &applied, &c.Film, &c.Method, &c.Batch, &c.Mix, &recipe, &can, &c.UsedML, &c.Abraded, &c.Note, &recorded, &undone,
		&c.Step, &c.FilmLeast, &c.FilmMost, &c.AreaM2, &c.ThinnedPct, &c.Over, &c.Class, &c.Warned, &c.Reason}
	into = append(into, c.Part.fields(&piece, &number)...)
	if err := scan(append(into, product.fields()...)...); err != nil {
		return Coat{}, product, err
	}
	c.ID, c.PieceID, c.Part.ID = coatIDs.of(id), pieceIDs.of(piece), partID(piece, number)
	c.Recipe, c.Can = mixIDs.orEmpty(recipe), canIDs.orEmpty(can)
	c.Applied, c.Recorded = fromMillis(applied), fromMillis(recorded)
	c.Undone = orZero(undone)
	return c, product, nil
}

func coatOf(ctx context.Context, from querier, id string) (Coat, error) {
	n, err := coatIDs.number(id)
	if err != nil {
		return Coat{}, err
	}
	coats, err := queryRows(ctx, from, coatReader(), selectCoat+` WHERE coat.id = ?`, n)
	if err == nil && len(coats) == 0 {
		err = coatIDs.missing(id)
	}
	if err != nil {
		return Coat{}, err
	}
	return coats[0], nil
}
