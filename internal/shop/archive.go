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
