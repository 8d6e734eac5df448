package shop

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"time"

	"recoat/internal/quantity"
	"recoat/sensors"
)

// Piece is one of furniture, with the parts that are finished separately.
type Piece struct {
	ID    string    `json:"id"`
	Name  string    `json:"name"`
	Added time.Time `json:"added"`
	Parts []Part    `json:"parts"`
	Note  string    `json:"note"`
	// Client is for the finisher alone: never send it, log it or print it for
	// anybody else.
	Client    string    `json:"client"`
	Photo     string    `json:"photo"`              // the name of a file of Photos; empty: none
	Delivered time.Time `json:"delivered,omitzero"` // zero: it is not
	Archived  time.Time `json:"archived,omitzero"`  // zero: it is not
}

// Part is one separately finished portion of a piece.
type Part struct {
	ID          string  `json:"id"`
	Name        string  `json:"name"`
	Material    string  `json:"material"`     // what the board is of; empty: not known
	ThicknessMM float64 `json:"thickness_mm"` // of the board; 0: not known
	Room        string  `json:"room"`         // the id of the room it is in; empty: none
	Probe       string  `json:"probe"`        // the surface probe on it; empty: none
}

// mostParts is how many parts a piece may have.
const mostParts = 100

// AddPiece adds a piece with its parts, in the order given; the ids are the
// journal's to give.
func (j *Journal) AddPiece(ctx context.Context, p Piece, at time.Time) (Piece, error) {
	p, err := cleanPiece(p)
	if err != nil {
		return Piece{}, err
	}
	p.Added = fromMillis(at.UnixMilli())
	id, err := j.change(ctx, "add the piece", at, func(tx *sql.Tx) (step, error) {
		_, err := p.insert(ctx, tx, at)
		return step{p.ID, nil, p}, err
	})
	if err != nil {
		return Piece{}, err
	}
	return j.Piece(ctx, id)
}

// insert adds a clean piece with its parts, and gives them their ids.
func (p *Piece) insert(ctx context.Context, tx *sql.Tx, at time.Time) (int64, error) {
	result, err := tx.ExecContext(ctx, `INSERT INTO piece(name, note, client, search, added) VALUES (?, ?, ?, ?, ?)`, p.Name, p.Note, p.Client, p.words(), at.UnixMilli())
	if err != nil {
		return 0, err
	}
	piece, err := result.LastInsertId()
	if err != nil {
		return 0, err
	}
	p.ID = pieceIDs.of(piece)
	for i := range p.Parts {
		if err := addPart(ctx, tx, piece, int64(i)+1, &p.Parts[i]); err != nil {
			return 0, err
		}
	}
	return piece, nil
}

func cleanPiece(p Piece) (Piece, error) {
	p.Photo, p.Delivered, p.Archived = "", time.Time{}, time.Time{}
	var err error
	if p.Note, err = cleanText("the piece's note", p.Note, LongestNote); err != nil {
		return Piece{}, err
	}
	if p.Client, err = cleanText("the note on the client", p.Client, LongestNote); err != nil {
		return Piece{}, err
	}
	if p.Name, err = cleanName("the piece's name", p.Name); err != nil {
		return Piece{}, err
	}
	if n := len(p.Parts); n == 0 || n > mostParts {
		return Piece{}, &InputError{"the piece", fmt.Sprintf("has %d parts: give it 1 to %d, such as top, carcass and drawer fronts", n, mostParts)}
	}
	p.Parts = slices.Clone(p.Parts)
	for i := range p.Parts {
		if err := cleanPart(&p.Parts[i]); err != nil {
			return Piece{}, err
		}
	}
	return p, nil
}

func cleanPart(p *Part) error {
	var err error
	if p.Name, err = cleanName("the part's name", p.Name); err != nil {
		return err
	}
	if p.Material, err = cleanText("the part's material", p.Material, LongestName); err != nil {
		return err
	}
	if p.ThicknessMM != 0 {
		if _, err := quantity.ParseThickness(quantity.FormatThickness(p.ThicknessMM)); err != nil {
			return &InputError{"the part's thickness", err.Error()}
		}
	}
	return checkProbe(p.Room, p.Probe)
}

func checkProbe(room, probe string) error {
	switch {
	case probe == "":
		return nil
	case room == "":
		return &InputError{"the probe", "is on a part that is in no room: say in which room"}
	case !sensors.ValidProbe(probe):
		return &InputError{"the probe", fmt.Sprintf("is named by 1 to %d letters, digits, '-', '.' or '_'", sensors.MaxProbe)}
	}
	return nil
}

func addPart(ctx context.Context, tx *sql.Tx, piece, number int64, p *Part) error {
	p.ID = partID(piece, number)
	if err := checkPlace(ctx, tx, piece, number, p.Room, p.Probe); err != nil {
		return err
	}
	_, err := tx.ExecContext(ctx, `INSERT INTO part(piece, number, name, material, thickness_mm, room, probe) VALUES (?, ?, ?, ?, ?, nullif(?, ''), ?)`,
		piece, number, p.Name, p.Material, p.ThicknessMM, p.Room, p.Probe)
	return err
}

// checkPlace refuses a room that is not there, and a probe that another part
// has.
func checkPlace(ctx context.Context, tx *sql.Tx, piece, number int64, room, probe string) error {
	if room != "" {
		found, err := exists(ctx, tx, `SELECT 1 FROM room WHERE id = ?`, room)
		if err != nil {
			return err
		}
		if !found {
			return fmt.Errorf("no room has the id %s: %w", quantity.Quote(room), ErrNotFound)
		}
	}
	if probe == "" {
		return nil
	}
	others, err := queryRows(ctx, tx, readPart, `SELECT `+partColumns+` FROM part WHERE room = ? AND probe = ? AND NOT (piece = ? AND number = ?)`, room, probe, piece, number)
	if err != nil {
		return err
	}
	if len(others) > 0 {
		return &InputError{"the probe", fmt.Sprintf("%s is on part %s (%s): take it off there first", probe, others[0].ID, others[0].Name)}
	}
	return nil
}

// PlacePart says in which room a part is, and which surface probe is on it.
// Both may be empty. The coats on the part go where it goes.
func (j *Journal) PlacePart(ctx context.Context, id, room, probe string, at time.Time) error {
	if err := checkProbe(room, probe); err != nil {
		return err
	}
	piece, number, err := partNumbers(id)
	if err != nil {
		return err
	}
	_, err = j.change(ctx, "place the part", at, func(tx *sql.Tx) (step, error) {
		before, err := partOf(ctx, tx, id)
		if err != nil {
			return step{}, err
		}
		if before.Room == room && before.Probe == probe {
			return step{id, before, before}, errNothingToDo
		}
		if err := checkPlace(ctx, tx, piece, number, room, probe); err != nil {
			return step{}, err
		}
		after := before
		after.Room, after.Probe = room, probe
		_, err = tx.ExecContext(ctx, `UPDATE part SET room = nullif(?, ''), probe = ? WHERE piece = ? AND number = ?`, room, probe, piece, number)
		return step{id, before, after}, err
	})
	return err
}

const partColumns = `part.piece, part.number, part.name, part.material, part.thickness_mm, coalesce(part.room, ''), part.probe`

// fields are what partColumns are scanned into; the id follows from the first
// two.
func (p *Part) fields(piece, number *int64) []any {
	return []any{piece, number, &p.Name, &p.Material, &p.ThicknessMM, &p.Room, &p.Probe}
}

func readPart(scan scanner) (Part, error) {
	var p Part
	var piece, number int64
	err := scan(p.fields(&piece, &number)...)
	p.ID = partID(piece, number)
	return p, err
}

func partOf(ctx context.Context, from querier, id string) (Part, error) {
	piece, number, err := partNumbers(id)
	if err != nil {
		return Part{}, err
	}
	parts, err := queryRows(ctx, from, readPart, `SELECT `+partColumns+` FROM part WHERE piece = ? AND number = ?`, piece, number)
	if err == nil && len(parts) == 0 {
		err = fmt.Errorf("no part has the id %s: %w", quantity.Quote(id), ErrNotFound)
	}
	if err != nil {
		return Part{}, err
	}
	return parts[0], nil
}

// Pieces returns every piece that is not in the archive with its parts, in the
// order in which they were added.
func (j *Journal) Pieces(ctx context.Context) ([]Piece, error) {
	return pieces(ctx, j.db.Read, `piece.archived IS NULL`)
}

// Piece returns one piece with its parts, in the archive or not.
func (j *Journal) Piece(ctx context.Context, id string) (Piece, error) {
	p, err := pieceOf(ctx, j.db.Read, id)
	if err != nil {
		return Piece{}, fmt.Errorf("read the piece: %w", err)
	}
	return p, nil
}

func pieceOf(ctx context.Context, from querier, id string) (Piece, error) {
	n, err := pieceIDs.number(id)
	if err != nil {
		return Piece{}, err
	}
	all, err := pieces(ctx, from, `piece.id = ?`, n)
	if err == nil && len(all) == 0 {
		err = pieceIDs.missing(id)
	}
	if err != nil {
		return Piece{}, err
	}
	return all[0], nil
}

const pieceColumns = `piece.name, piece.added, piece.note, piece.client, piece.photo, piece.delivered, piece.archived`

func pieces(ctx context.Context, from querier, where string, args ...any) ([]Piece, error) {
	var all []Piece
	_, err := query(ctx, from, "read the pieces", func(scan scanner) (struct{}, error) {
		var p Piece
		var part Part
		var added, piece, number int64
		var delivered, archived sql.NullInt64
		if err := scan(append([]any{&p.Name, &added, &p.Note, &p.Client, &p.Photo, &delivered, &archived}, part.fields(&piece, &number)...)...); err != nil {
			return struct{}{}, err
		}
		p.ID, p.Added, part.ID = pieceIDs.of(piece), fromMillis(added), partID(piece, number)
		p.Delivered, p.Archived = orZero(delivered), orZero(archived)
		if n := len(all); n == 0 || all[n-1].ID != p.ID {
			all = append(all, p)
		}
		last := &all[len(all)-1]
		last.Parts = append(last.Parts, part)
		return struct{}{}, nil
	}, `SELECT `+pieceColumns+`, `+partColumns+` FROM piece JOIN part ON part.piece = piece.id WHERE `+where+` ORDER BY piece.id, part.number`, args...)
	return all, err
}
