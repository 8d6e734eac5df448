// Package sqlite keeps readings in one SQLite file. FORMAT.md describes it.
package sqlite

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"

	driver "modernc.org/sqlite"
	codes "modernc.org/sqlite/lib"

	"recoat/internal/sqldb"
	"recoat/internal/store"
)

// Store is a store.Readings in one file.
type Store struct {
	db *sqldb.DB

	turn   chan struct{} // held by the Append that is committing
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
	return &Store{db: db, turn: make(chan struct{}, 1)}, nil
}

// Close waits for a commit under way and closes the file.
func (s *Store) Close() error {
	s.turn <- struct{}{}
	defer func() { <-s.turn }()
	return s.db.Close()
}

// Check reads the whole file and returns store.ErrDamaged, with what was found,
// if its structure is not sound. It may take minutes on a card: bound it by ctx.
// The values themselves carry no checksum.
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
	if len(found) == 1 && found[0] == "ok" {
		return nil
	}
	return fmt.Errorf("%s: %w: %s", op, store.ErrDamaged, strings.Join(found, "; "))
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
