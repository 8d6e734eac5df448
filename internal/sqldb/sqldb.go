// Package sqldb opens recoat's SQLite files the one safe way: write-ahead log,
// full sync, one writer, immediate transactions, integers for times, a schema
// version that only goes up.
package sqldb

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"time"

	_ "modernc.org/sqlite" // registers the driver "sqlite"
)

// Schema says what a file holds. Migrations[i] brings it from version i to
// version i+1; they are never edited once released, only added to.
type Schema struct {
	ApplicationID int32 // SQLite's application_id, tells our files apart
	Migrations    []string
}

// DB is an open file: Write takes one connection at a time, Read takes several
// and cannot write.
type DB struct {
	Write *sql.DB
	Read  *sql.DB
	Path  string
}

// ErrNewer says that the file was written by a later version of recoat.
var ErrNewer = errors.New("the file was written by a newer version of recoat: use that version, or restore an older backup")

// ErrForeign says that the file holds something else.
var ErrForeign = errors.New("the file is not one of recoat's, or not of this kind")

const (
	writePragmas = "_pragma=auto_vacuum(2)&_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)&_pragma=busy_timeout(5000)&_pragma=foreign_keys(1)&_pragma=journal_size_limit(16777216)&_pragma=trusted_schema(0)&_txlock=immediate"
	readPragmas  = "mode=ro&_pragma=busy_timeout(5000)&_pragma=query_only(1)&_pragma=trusted_schema(0)"
	readers      = 4
	readerIdle   = time.Minute // after which a reader's cache of pages is given back
)

// Open opens or creates the file at path and brings it to the newest version.
// The folder is made with mode 0700 and the file with 0600.
func Open(ctx context.Context, path string, schema Schema) (*DB, error) {
	if err := prepare(path); err != nil {
		return nil, err
	}
	name := (&url.URL{Scheme: "file", Opaque: (&url.URL{Path: path}).EscapedPath()}).String()
	write, err := sql.Open("sqlite", name+"?"+writePragmas)
	if err != nil {
		return nil, fmt.Errorf("open %s: %w", path, err)
	}
	write.SetMaxOpenConns(1)
	if err := migrate(ctx, write, schema); err != nil {
		return nil, errors.Join(fmt.Errorf("open %s: %w", path, err), write.Close())
	}
	read, err := sql.Open("sqlite", name+"?"+readPragmas)
	if err != nil {
		return nil, errors.Join(fmt.Errorf("open %s: %w", path, err), write.Close())
	}
	read.SetMaxOpenConns(readers)
	read.SetConnMaxIdleTime(readerIdle)
	return &DB{Write: write, Read: read, Path: path}, nil
}

// Close closes both pools.
func (db *DB) Close() error { return errors.Join(db.Read.Close(), db.Write.Close()) }

// Tx runs do inside one immediate transaction and commits it if do returns nil.
func (db *DB) Tx(ctx context.Context, do func(*sql.Tx) error) error {
	tx, err := db.Write.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	if err := do(tx); err != nil {
		return errors.Join(err, tx.Rollback())
	}
	return tx.Commit()
}

func prepare(path string) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return fmt.Errorf("make the folder of %s: %w", path, err)
	}
	f, err := os.OpenFile(path, os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return fmt.Errorf("open %s: %w", path, err)
	}
	return f.Close()
}

func migrate(ctx context.Context, db *sql.DB, schema Schema) error {
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	err = migrateTx(ctx, tx, schema)
	if err != nil {
		return errors.Join(err, tx.Rollback())
	}
	return tx.Commit()
}

func migrateTx(ctx context.Context, tx *sql.Tx, schema Schema) error {
	var id int32
	var version, tables int
	err := tx.QueryRowContext(ctx, `SELECT (SELECT * FROM pragma_application_id), (SELECT * FROM pragma_user_version), (SELECT count(*) FROM sqlite_schema)`).Scan(&id, &version, &tables)
	switch {
	case err != nil:
		return err
	case id != schema.ApplicationID && (id != 0 || tables != 0):
		return ErrForeign
	case version > len(schema.Migrations):
		return fmt.Errorf("version %d, newest known %d: %w", version, len(schema.Migrations), ErrNewer)
	}
	for i, statement := range schema.Migrations[version:] {
		if _, err := tx.ExecContext(ctx, statement); err != nil {
			return fmt.Errorf("bring the file to version %d: %w", version+i+1, err)
		}
	}
	// PRAGMA takes no bound values; both are our own integers.
	_, err = tx.ExecContext(ctx, fmt.Sprintf("PRAGMA application_id=%d; PRAGMA user_version=%d", schema.ApplicationID, len(schema.Migrations)))
	return err
}
