// Package sqlite keeps readings in one SQLite file. FORMAT.md describes it.
package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"strings"
	"sync"

	driver "modernc.org/sqlite"
	codes "modernc.org/sqlite/lib"

	"recoat/internal/sqldb"
	"recoat/internal/store"
)

// Store is a store.Readings in one file.
type Store struct {
	db       *sqldb.DB
	compiled compiled

	turn   chan struct{}  // held by the Append that is committing
	ids    map[name]int64 // the numbers of names that are on the disk; for whoever has the turn
	mu     sync.Mutex
	queued []*request // what the next commit will hold
}

var _ store.Readings = (*Store)(nil)

// Open opens or creates the file at path. Errors are store.ErrDamaged,
// store.ErrFull, sqldb.ErrNewer, sqldb.ErrForeign, or the system's own.
func Open(ctx context.Context, path string) (*Store, error) {
	db, err := sqldb.Open(ctx, path, schema())
	if err != nil {
		return nil, explain(ctx, "open the readings", err)
	}
	c, err := compile(ctx, db.Write)
	if err != nil {
		return nil, explain(ctx, "open the readings", errors.Join(err, db.Close()))
	}
	return &Store{db: db, compiled: c, turn: make(chan struct{}, 1), ids: map[name]int64{}}, nil
}

// Close waits for a commit under way and closes the file.
func (s *Store) Close() error {
	s.turn <- struct{}{}
	defer func() { <-s.turn }()
	return s.db.Close()
}

// Check reads the whole file and returns store.ErrDamaged, with what was found,
// if its structure is not sound or a segment is not as it was written. It may
// take minutes on a card: bound it by ctx. The rows of the newest rounds carry
// no check sum.
func (s *Store) Check(ctx context.Context) error {
	const op = "check the readings"
	rows, err := s.db.Read.QueryContext(ctx, `PRAGMA quick_check(20)`)
	if err != nil {
		return explain(ctx, op, err)
	}
	found, err := collect(rows, func(scan scanner) (line string, err error) {
		err = scan.Scan(&line)
		return line, err
	})
	if err != nil {
		return explain(ctx, op, err)
	}
	if len(found) != 1 || found[0] != "ok" {
		return fmt.Errorf("%s: %w: %s", op, store.ErrDamaged, strings.Join(found, "; "))
	}
	return explain(ctx, op, s.snapshot(ctx, func(tx *sql.Tx) error { return checkSegments(ctx, tx) }))
}

// checkSegments unpacks every segment, one after the other.
func checkSegments(ctx context.Context, tx *sql.Tx) error {
	l := newLoader(ctx, tx)
	for after := int64(-1); ; {
		rows, err := tx.QueryContext(ctx, `SELECT s.id, n.name, b.name FROM segment s JOIN boot b ON b.id = s.id >> ? JOIN node n ON n.id = b.node WHERE s.id > ? ORDER BY s.id LIMIT 1000`, seqBits, after)
		if err != nil {
			return err
		}
		some, err := collect(rows, func(row scanner) (x extent, err error) {
			err = row.Scan(&x.first, &x.node, &x.boot)
			x.block = blockOf(x.first, x.boot)
			return x, err
		})
		if err != nil || len(some) == 0 {
			return err
		}
		for _, x := range some {
			if _, err := l.load(nil, x.block, x.origin, math.MinInt64, math.MaxInt64); err != nil {
				return err
			}
		}
		after = some[len(some)-1].first
	}
}

// explain adds to an error of the driver the sentinel a caller can act on.
func explain(ctx context.Context, op string, err error) error {
	if err == nil {
		return nil
	}
	if ctx.Err() != nil {
		return fmt.Errorf("%s: %w", op, ctx.Err())
	}
	var e *driver.Error
	if !errors.As(err, &e) {
		return fmt.Errorf("%s: %w", op, err)
	}
	switch code := e.Code(); {
	case code == codes.SQLITE_FULL, code == codes.SQLITE_IOERR_SHMSIZE:
		return fmt.Errorf("%s: %w: %w", op, store.ErrFull, err)
	case code&0xff == codes.SQLITE_CORRUPT, code&0xff == codes.SQLITE_NOTADB:
		return fmt.Errorf("%s: %w: %w", op, store.ErrDamaged, err)
	}
	return fmt.Errorf("%s: %w", op, err)
}
