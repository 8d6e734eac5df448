package access

import (
	"context"
	"database/sql"
	"errors"
)

// EndSessions ends every session in the book at path. A book that comes from a
// backup holds sessions that have ended since, of phones that were lost and
// passwords that were changed: nobody is logged in who has not logged in again.
func EndSessions(ctx context.Context, path string) error {
	b, err := Open(ctx, Options{Path: path})
	if err != nil {
		return err
	}
	err = b.tx(ctx, "end every session", func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, `DELETE FROM session`); err != nil {
			return err
		}
		return b.enter(ctx, tx, "every session ended: the accounts came from a backup", "", "")
	})
	return errors.Join(err, b.Close())
}
