package sqlite

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"time"
)

// Span is a stretch of time of a room.
type Span struct {
	Room     string
	From, To time.Time
}

const (
	thinBlocks = 200 // blocks to a transaction: appends go on between them
	freePages  = 2000
)

// Thin lets go of rounds older than before, block by block, unless a block
// touches one of the spans to keep. Rollups stay. It returns how many blocks
// went.
func (s *Store) Thin(ctx context.Context, before time.Time, keep []Span) (int64, error) {
	const op = "thin the readings"
	var gone int64
	for after := int64(-1); ; {
		var n int64
		var last int64
		err := s.maintain(ctx, func(tx *sql.Tx) (err error) {
			n, last, err = thinSome(ctx, tx, after, before, keep)
			return err
		})
		if err != nil {
			return gone, explain(ctx, op, err)
		}
		if gone += n; last == after {
			break
		}
		after = last
	}
	if gone > 0 {
		if _, err := s.db.Write.ExecContext(ctx, fmt.Sprintf(`PRAGMA incremental_vacuum(%d)`, freePages)); err != nil {
			return gone, explain(ctx, op, err)
		}
	}
	return gone, nil
}

// maintain runs do in a transaction in turn with the commits of appends.
func (s *Store) maintain(ctx context.Context, do func(*sql.Tx) error) error {
	select {
	case s.turn <- struct{}{}:
		defer func() { <-s.turn }()
	case <-ctx.Done():
		return ctx.Err()
	}
	return s.db.Tx(ctx, do)
}

// thinSome looks at the blocks after one and returns the last it looked at.
func thinSome(ctx context.Context, tx *sql.Tx, after int64, before time.Time, keep []Span) (gone, last int64, err error) {
	rows, err := tx.QueryContext(ctx, `SELECT k.id, k.lo, k.hi, n.room, b.name FROM block k JOIN boot b ON b.id = k.id >> ? JOIN node n ON n.id = b.node
		WHERE k.id > ? AND k.hi < ? ORDER BY k.id LIMIT ?`, seqBits, after, before.UnixMilli(), thinBlocks)
	if err != nil {
		return 0, after, err
	}
	type old struct {
		block
		lo, hi     int64
		room, boot string
	}
	blocks, err := collect(rows, func(row scanner) (x old, err error) {
		err = row.Scan(&x.first, &x.lo, &x.hi, &x.room, &x.boot)
		x.block = blockOf(x.first, x.boot)
		return x, err
	})
	if err != nil {
		return 0, after, err
	}
	last = after
	for _, x := range blocks {
		last = x.first
		if slices.ContainsFunc(keep, func(p Span) bool {
			return p.Room == x.room && x.hi >= p.From.UnixMilli() && x.lo < ceilMilli(p.To)
		}) {
			continue
		}
		if err := dropBlock(ctx, tx, x.block); err != nil {
			return gone, last, err
		}
		gone++
	}
	return gone, last, nil
}

func dropBlock(ctx context.Context, tx *sql.Tx, k block) error {
	for _, statement := range []string{`DELETE FROM segment WHERE id = ?1`, `DELETE FROM round WHERE id BETWEEN ?1 AND ?2`, `DELETE FROM block WHERE id = ?1`} {
		if _, err := tx.ExecContext(ctx, statement, k.first, k.last); err != nil {
			return err
		}
	}
	return nil
}

// Pack packs the blocks whose rounds are all older than before, such as those
// of boots that are over.
func (s *Store) Pack(ctx context.Context, before time.Time) error {
	for left := true; left; {
		err := s.maintain(ctx, func(tx *sql.Tx) error {
			rows, err := tx.QueryContext(ctx, `SELECT k.id, b.name FROM block k JOIN boot b ON b.id = k.id >> ?
				WHERE k.hi < ? AND NOT EXISTS (SELECT 1 FROM segment s WHERE s.id = k.id) LIMIT ?`, seqBits, before.UnixMilli(), thinBlocks)
			if err != nil {
				return err
			}
			blocks, err := collect(rows, func(row scanner) (x block, err error) {
				var boot string
				err = row.Scan(&x.first, &boot)
				return blockOf(x.first, boot), err
			})
			if err != nil {
				return err
			}
			left = len(blocks) == thinBlocks
			b := newBatch(ctx, tx, s)
			for _, k := range blocks {
				if err := b.sealRows(k); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			return explain(ctx, "pack the readings", err)
		}
	}
	return nil
}
