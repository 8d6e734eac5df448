package sqlite

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"time"

	"recoat/internal/store"
	"recoat/sensors"
)

// Rounds implements store.Readings.
func (s *Store) Rounds(ctx context.Context, q store.Query, each func(sensors.Round) error) error {
	const op = "read rounds"
	var own error
	err := s.snapshot(ctx, func(tx *sql.Tx) error {
		return scan(ctx, tx, q, func(r sensors.Round) error {
			own = each(r)
			return own
		})
	})
	if own != nil {
		return own
	}
	return explain(ctx, op, err)
}

// snapshot runs do over the file as it is now, whatever is written meanwhile.
func (s *Store) snapshot(ctx context.Context, do func(*sql.Tx) error) error {
	tx, err := s.db.Read.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	err = do(tx)
	if end := tx.Rollback(); err == nil && !errors.Is(end, sql.ErrTxDone) {
		err = end
	}
	return err
}

// extent is a block with what its ids stand for and its earliest time.
type extent struct {
	block
	origin
	lo int64
}

// scan calls each with the rounds of q in the order of store.Compare. It reads
// block by block, earliest first, and holds a round back until no later block
// can precede it.
func scan(ctx context.Context, tx *sql.Tx, q store.Query, each func(sensors.Round) error) error {
	blocks, err := findBlocks(ctx, tx, q)
	if err != nil || len(blocks) == 0 {
		return err
	}
	l := newLoader(ctx, tx)
	var waiting []sensors.Round
	for i, b := range blocks {
		if waiting, err = l.load(waiting, b.block, b.origin, ceilMilli(q.From), ceilMilli(q.To)); err != nil {
			return err
		}
		slices.SortFunc(waiting, store.Compare)
		ready := len(waiting)
		if i+1 < len(blocks) {
			ready, _ = slices.BinarySearchFunc(waiting, blocks[i+1].lo, func(r sensors.Round, lo int64) int {
				return cmp.Compare(r.Time.UnixMilli(), lo)
			})
		}
		if err := deliver(ctx, waiting[:ready], each); err != nil {
			return err
		}
		waiting = slices.Delete(waiting, 0, ready)
	}
	return nil
}

func deliver(ctx context.Context, rounds []sensors.Round, each func(sensors.Round) error) error {
	for _, r := range rounds {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := each(r); err != nil {
			return err
		}
	}
	return nil
}

func findBlocks(ctx context.Context, tx *sql.Tx, q store.Query) ([]extent, error) {
	rows, err := tx.QueryContext(ctx, `SELECT k.id, k.lo, n.name, b.name FROM block k JOIN boot b ON b.id = k.id >> ? JOIN node n ON n.id = b.node
		WHERE k.hi >= ? AND k.lo < ? AND n.room = ? AND (?5 = '' OR n.name = ?5) ORDER BY k.lo, k.id`,
		seqBits, ceilMilli(q.From), ceilMilli(q.To), q.Room, q.Node)
	if err != nil {
		return nil, err
	}
	return collect(rows, func(row scanner) (x extent, err error) {
		err = row.Scan(&x.first, &x.lo, &x.node, &x.boot)
		x.block = blockOf(x.first, x.boot)
		return x, err
	})
}

// ceilMilli returns the first whole millisecond that is not before t. A bound
// may fall between two; the times of rounds do not.
func ceilMilli(t time.Time) int64 { return t.Add(time.Millisecond - 1).UnixMilli() }

// loader reads blocks of rounds, with statements prepared once they are needed.
type loader struct {
	ctx      context.Context
	tx       *sql.Tx
	rounds   *sql.Stmt
	segments *sql.Stmt
	layouts  map[int64][]sensors.Channel
}

func newLoader(ctx context.Context, tx *sql.Tx) *loader {
	return &loader{ctx: ctx, tx: tx, layouts: map[int64][]sensors.Channel{}}
}

// prepare makes a statement, which ends with the transaction.
func (l *loader) prepare(s **sql.Stmt, text string) (err error) {
	if *s == nil {
		*s, err = l.tx.PrepareContext(l.ctx, text) //nolint:sqlclosecheck // the end of the transaction closes it
	}
	return err
}

// load appends to rounds those of a whole block with from <= at < to.
func (l *loader) load(rounds []sensors.Round, b block, o origin, from, to int64) ([]sensors.Round, error) {
	if err := l.prepare(&l.segments, `SELECT data FROM segment WHERE id = ?`); err != nil {
		return nil, err
	}
	var data []byte
	err := l.segments.QueryRowContext(l.ctx, b.first).Scan(&data)
	if errors.Is(err, sql.ErrNoRows) {
		return l.loadRows(rounds, b, o, from, to)
	}
	if err != nil {
		return nil, err
	}
	all, err := decodeSegment(b, o, data, l.layout)
	if err != nil {
		return nil, err
	}
	for _, p := range all {
		if at := p.round.Time.UnixMilli(); at >= from && at < to {
			rounds = append(rounds, *p.round)
		}
	}
	return rounds, nil
}

// loadRows appends to rounds those kept as rows.
func (l *loader) loadRows(rounds []sensors.Round, b block, o origin, from, to int64) ([]sensors.Round, error) {
	if err := l.prepare(&l.rounds, `SELECT id, at, data FROM round WHERE id BETWEEN ? AND ? AND at >= ? AND at < ? ORDER BY id`); err != nil {
		return nil, err
	}
	rows, err := l.rounds.QueryContext(l.ctx, b.first, b.last, from, to)
	if err != nil {
		return nil, err
	}
	records, err := collect(rows, func(row scanner) (x record, err error) {
		err = row.Scan(&x.id, &x.at, &x.data)
		return x, err
	})
	if err != nil {
		return nil, err
	}
	for _, x := range records {
		r, err := x.decode(o, l.layout)
		if err != nil {
			return nil, err
		}
		rounds = append(rounds, r)
	}
	return rounds, nil
}

func (l *loader) layout(id int64) ([]sensors.Channel, error) {
	if layout, ok := l.layouts[id]; ok {
		return layout, nil
	}
	var channels string
	err := l.tx.QueryRowContext(l.ctx, `SELECT channels FROM layout WHERE id = ?`, id).Scan(&channels)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, fmt.Errorf("%w: layout %d is not there", store.ErrDamaged, id)
	}
	if err != nil {
		return nil, err
	}
	layout, err := parseLayout(channels)
	if err != nil {
		return nil, err
	}
	l.layouts[id] = layout
	return layout, nil
}

// scanner is the part of sql.Rows that reads a row.
type scanner interface{ Scan(into ...any) error }

// collect reads all the rows and closes them.
func collect[T any](rows *sql.Rows, one func(scanner) (T, error)) ([]T, error) {
	defer rows.Close()
	var all []T
	for rows.Next() {
		x, err := one(rows)
		if err != nil {
			return nil, err
		}
		all = append(all, x)
	}
	return all, rows.Err()
}
