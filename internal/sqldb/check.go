package sqldb

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	driver "modernc.org/sqlite"
	codes "modernc.org/sqlite/lib"
)

// ErrDamaged says that a file cannot be read as it was written.
var ErrDamaged = errors.New("the file is damaged")

// Check reads an existing file through and returns ErrDamaged, with what was
// found, if its structure is not sound. On a card it may take minutes: bound it
// by ctx.
func Check(ctx context.Context, path string) error {
	err := Visit(ctx, path, func(db *sql.DB) error {
		var verdict string
		if err := db.QueryRowContext(ctx, `PRAGMA quick_check(1)`).Scan(&verdict); err != nil {
			return err
		}
		if verdict != "ok" {
			return fmt.Errorf("%w: %s", ErrDamaged, verdict)
		}
		return nil
	})
	if err != nil && ctx.Err() != nil {
		return fmt.Errorf("check %s: %w", path, ctx.Err())
	}
	return err
}

// named adds ErrDamaged to what SQLite says of a file that it cannot read.
func named(err error) error {
	var e *driver.Error
	if errors.As(err, &e) && (e.Code()&0xff == codes.SQLITE_CORRUPT || e.Code()&0xff == codes.SQLITE_NOTADB) {
		return fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	return err
}
