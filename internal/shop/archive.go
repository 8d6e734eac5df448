package shop

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"time"

	"recoat/internal/quantity"
)

// archived are the tables of what can be put into the archive, by the letter of
// its ids.
var archived = []struct {
	ids   ids
	table string
}{{pieceIDs, "piece"}, {productIDs, "product"}, {mixIDs, "mix"}, {canIDs, "can"}}

// Archive puts a piece, a product, a mix or a can away: it is no longer listed,
// and everything that was recorded with it stays.
func (j *Journal) Archive(ctx context.Context, id string, at time.Time) error {
	return j.archive(ctx, "put it into the archive", id, at, at)
}

// Unarchive takes it out of the archive again.
func (j *Journal) Unarchive(ctx context.Context, id string, at time.Time) error {
	return j.archive(ctx, "take it out of the archive", id, time.Time{}, at)
}

func (j *Journal) archive(ctx context.Context, what, id string, when, at time.Time) error {
	for _, a := range archived {
		if !strings.HasPrefix(id, a.ids.letter+"-") {
			continue
		}
		n, err := a.ids.number(id)
		if err != nil {
			return fmt.Errorf("%s: %w", what, err)
		}
		_, err = j.change(ctx, what, at, func(tx *sql.Tx) (step, error) {
			return setArchived(ctx, tx, a.ids, a.table, n, orNull(when))
		})
		return err
	}
	return fmt.Errorf("%s: %s is not the id of a piece, a product, a mix or a can: %w", what, quantity.Quote(id), ErrNotFound)
}

// Filed is something in the archive.
type Filed struct {
	ID, Name string
	Since    time.Time
}

// filedNames is how each kind but pieces, which are searched, is named.
var filedNames = map[string]string{
	"product": `SELECT id, name, archived FROM product WHERE version = (SELECT max(version) FROM product AS p WHERE p.id = product.id)`,
	"mix":     `SELECT id, name, archived FROM mix WHERE TRUE`,
	"can":     `SELECT id, (SELECT name FROM product WHERE product.id = can.product ORDER BY version DESC LIMIT 1) || CASE batch WHEN '' THEN '' ELSE ', batch ' || batch END, archived FROM can WHERE TRUE`,
}

// Filed lists what is in the archive of one kind: "product", "mix" or "can";
// what was put there last comes first.
func (j *Journal) Filed(ctx context.Context, kind string) ([]Filed, error) {
	for _, a := range archived {
		statement, known := filedNames[kind]
		if a.table != kind || !known {
			continue
		}
		return query(ctx, j.db.Read, "read the archive", func(scan scanner) (f Filed, err error) {
			var id int64
			var since sql.NullInt64
			err = scan(&id, &f.Name, &since)
			f.ID, f.Since = a.ids.of(id), orZero(since)
			return f, err
		}, statement+` AND archived IS NOT NULL ORDER BY archived DESC, id DESC`)
	}
	return nil, fmt.Errorf("read the archive: %s is none of product, mix and can: %w", quantity.Quote(kind), ErrNotFound)
}

func setArchived(ctx context.Context, tx *sql.Tx, k ids, table string, n int64, when sql.NullInt64) (step, error) {
	rows, err := queryRows(ctx, tx, func(scan scanner) (was sql.NullInt64, err error) { err = scan(&was); return was, err },
		`SELECT archived FROM `+table+` WHERE id = ? LIMIT 1`, n)
	switch {
	case err != nil:
		return step{}, err
	case len(rows) == 0:
		return step{}, k.missing(k.of(n))
	case rows[0].Valid == when.Valid:
		return step{k.of(n), nil, nil}, errNothingToDo
	}
	_, err = tx.ExecContext(ctx, `UPDATE `+table+` SET archived = ? WHERE id = ?`, when, n)
	return step{k.of(n), inArchive(rows[0]), inArchive(when)}, err
}

func inArchive(when sql.NullInt64) any {
	return struct {
		Archived time.Time `json:"archived,omitzero"`
	}{orZero(when)}
}
