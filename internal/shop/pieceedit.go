package shop

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"time"

	"recoat/internal/shop/photo"
)

// PieceEdit is what to change of a piece; nil leaves it as it is.
type PieceEdit struct {
	Name      *string    `json:"name,omitempty"`
	Note      *string    `json:"note,omitempty"`
	Client    *string    `json:"client,omitempty"`
	Photo     *string    `json:"photo,omitempty"`     // the name of a photo that is kept; empty: none
	Delivered *time.Time `json:"delivered,omitempty"` // the zero time: it is not
}

// PartEdit is what to change of a part; nil leaves it as it is. Where it is,
// and its probe, PlacePart changes.
type PartEdit struct {
	Name        *string  `json:"name,omitempty"`
	Material    *string  `json:"material,omitempty"`
	ThicknessMM *float64 `json:"thickness_mm,omitempty"`
}

// EditPiece changes what is written of a piece. What was there before stays in
// the record of changes, and UndoEdit brings it back.
func (j *Journal) EditPiece(ctx context.Context, id string, e PieceEdit, at time.Time) (Piece, error) {
	n, err := pieceIDs.number(id)
	if err != nil {
		return Piece{}, fmt.Errorf("%s: %w", editPiece, err)
	}
	if e.Delivered != nil && !e.Delivered.IsZero() {
		if err := checkTime("the time of delivery", *e.Delivered, at); err != nil {
			return Piece{}, err
		}
		e.Delivered = of(fromMillis(e.Delivered.UnixMilli()))
	}
	_, err = j.change(ctx, editPiece, at, func(tx *sql.Tx) (step, error) {
		p, err := pieceOf(ctx, tx, id)
		if err != nil {
			return step{}, err
		}
		was := e.into(&p)
		if was == (PieceEdit{}) {
			return step{id, nil, nil}, errNothingToDo
		}
		delivered, kept := p.Delivered, p.Photo
		if kept != "" && !photo.ValidName(kept) {
			return step{}, &InputError{"the photo", "is named by the 64 hexadecimal digits of its SHA-256"}
		}
		if p, err = cleanPiece(p); err != nil {
			return step{}, err
		}
		_, err = tx.ExecContext(ctx, `UPDATE piece SET name = ?, note = ?, client = ?, photo = ?, delivered = ?, search = ? WHERE id = ?`,
			p.Name, p.Note, p.Client, kept, orNull(delivered), p.words(), n)
		return step{id, was, e}, err
	})
	if err != nil {
		return Piece{}, err
	}
	return j.Piece(ctx, id)
}

func (e *PieceEdit) into(p *Piece) (was PieceEdit) {
	swap(&e.Name, &was.Name, &p.Name)
	swap(&e.Note, &was.Note, &p.Note)
	swap(&e.Client, &was.Client, &p.Client)
	swap(&e.Photo, &was.Photo, &p.Photo)
	swap(&e.Delivered, &was.Delivered, &p.Delivered)
	return was
}

// EditPart changes what is written of a part, as EditPiece does of a piece.
func (j *Journal) EditPart(ctx context.Context, id string, e PartEdit, at time.Time) (Piece, error) {
	piece, number, err := partNumbers(id)
	if err != nil {
		return Piece{}, fmt.Errorf("%s: %w", editPart, err)
	}
	_, err = j.change(ctx, editPart, at, func(tx *sql.Tx) (step, error) {
		p, err := partOf(ctx, tx, id)
		if err != nil {
			return step{}, err
		}
		var was PartEdit
		swap(&e.Name, &was.Name, &p.Name)
		swap(&e.Material, &was.Material, &p.Material)
		swap(&e.ThicknessMM, &was.ThicknessMM, &p.ThicknessMM)
		if was == (PartEdit{}) {
			return step{id, nil, nil}, errNothingToDo
		}
		if err := cleanPart(&p); err != nil {
			return step{}, err
		}
		if _, err := tx.ExecContext(ctx, `UPDATE part SET name = ?, material = ?, thickness_mm = ? WHERE piece = ? AND number = ?`, p.Name, p.Material, p.ThicknessMM, piece, number); err != nil {
			return step{}, err
		}
		return step{id, was, e}, index(ctx, tx, piece)
	})
	if err != nil {
		return Piece{}, err
	}
	return j.Piece(ctx, pieceIDs.of(piece))
}

// index writes what a piece is found by.
func index(ctx context.Context, tx *sql.Tx, piece int64) error {
	p, err := pieceOf(ctx, tx, pieceIDs.of(piece))
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, `UPDATE piece SET search = ? WHERE id = ?`, p.words(), piece)
	return err
}

// words is what a piece is found by, in small letters.
func (p Piece) words() string {
	all := []string{p.Name, p.Note, p.Client}
	for _, part := range p.Parts {
		all = append(all, part.Name, part.Material)
	}
	return strings.ToLower(strings.Join(all, "\n"))
}

// DuplicatePiece adds a piece with the parts and schedules of another, under
// another name, in the same rooms but without probes. Nothing of it is done.
func (j *Journal) DuplicatePiece(ctx context.Context, id, name string, at time.Time) (Piece, error) {
	name, err := cleanName("the piece's name", name)
	if err != nil {
		return Piece{}, err
	}
	from, err := pieceIDs.number(id)
	if err != nil {
		return Piece{}, fmt.Errorf("duplicate the piece: %w", err)
	}
	added, err := j.change(ctx, "duplicate the piece", at, func(tx *sql.Tx) (step, error) {
		old, err := pieceOf(ctx, tx, id)
		if err != nil {
			return step{}, err
		}
		p := Piece{Name: name, Added: fromMillis(at.UnixMilli())}
		for _, part := range old.Parts {
			p.Parts = append(p.Parts, Part{Name: part.Name, Material: part.Material, ThicknessMM: part.ThicknessMM, Room: part.Room})
		}
		n, err := p.insert(ctx, tx, at)
		if err != nil {
			return step{}, err
		}
		_, err = tx.ExecContext(ctx, `INSERT INTO schedule(piece, part, template, steps) SELECT ?, part, template, steps FROM schedule WHERE piece = ? ORDER BY part`, n, from)
		return step{p.ID, nil, p}, err
	})
	if err != nil {
		return Piece{}, err
	}
	return j.Piece(ctx, added)
}
