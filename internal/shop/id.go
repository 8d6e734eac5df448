package shop

import (
	"database/sql"
	"fmt"
	"strconv"
	"strings"

	"recoat/internal/quantity"
)

// ids are the ids of one kind of thing, such as "c-0007" of coats.
type ids struct{ letter, noun string }

var (
	productIDs  = ids{"f", "product"}
	pieceIDs    = ids{"p", "piece"}
	coatIDs     = ids{"c", "coat"}
	touchIDs    = ids{"t", "touch test"}
	mixIDs      = ids{"m", "mix"}
	canIDs      = ids{"s", "can on the shelf"}
	moistureIDs = ids{"w", "moisture reading"}

	calibrationIDs = ids{"k", "check of a sensor"}
	defectIDs      = ids{"d", "defect"}
)

func (k ids) of(n int64) string { return fmt.Sprintf("%s-%04d", k.letter, n) }

// number is the inverse of of.
func (k ids) number(id string) (int64, error) {
	digits, ok := strings.CutPrefix(id, k.letter+"-")
	n, err := strconv.ParseInt(digits, 10, 64)
	if !ok || err != nil || n < 1 || k.of(n) != id {
		return 0, fmt.Errorf("%s is not the id of a %s, such as %s: %w", quantity.Quote(id), k.noun, k.of(7), ErrNotFound)
	}
	return n, nil
}

// orNull is the number behind an id, and NULL for the empty one.
func (k ids) orNull(id string) (sql.NullInt64, error) {
	if id == "" {
		return sql.NullInt64{}, nil
	}
	n, err := k.number(id)
	return sql.NullInt64{Int64: n, Valid: err == nil}, err
}

// orEmpty is the inverse of orNull.
func (k ids) orEmpty(n sql.NullInt64) string {
	if !n.Valid {
		return ""
	}
	return k.of(n.Int64)
}

func (k ids) missing(id string) error {
	return fmt.Errorf("no %s has the id %s: %w", k.noun, quantity.Quote(id), ErrNotFound)
}

// partID is the id of a part: its piece's, and its number in that piece.
func partID(piece, number int64) string {
	return pieceIDs.of(piece) + "." + strconv.FormatInt(number, 10)
}

// partNumbers is the inverse of partID.
func partNumbers(id string) (piece, number int64, err error) {
	of, digits, _ := strings.Cut(id, ".")
	piece, err = pieceIDs.number(of)
	if err == nil {
		number, err = strconv.ParseInt(digits, 10, 64)
	}
	if err != nil || number < 1 || partID(piece, number) != id {
		return 0, 0, fmt.Errorf("%s is not the id of a part, such as %s: %w", quantity.Quote(id), partID(3, 2), ErrNotFound)
	}
	return piece, number, nil
}
