package alert

import (
	"context"
	"database/sql"
	"fmt"
	"time"
)

// Prune lets go of episodes that were over before an instant, and of their
// messages, unless one of them has not been dealt with. Those that are told
// once for ever stay, so that they are not told again.
func (o *Outbox) Prune(ctx context.Context, before time.Time) (episodes int64, err error) {
	const over = `SELECT id FROM episode e WHERE state = ? AND NOT once AND ended_at < ?
		AND NOT EXISTS (SELECT 1 FROM message m WHERE m.episode = e.id AND m.status NOT IN (?, ?, ?))`
	args := []any{Cleared, millis(before), Sent, Dropped, Folded}
	err = o.db.Tx(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, `DELETE FROM message WHERE episode IN (`+over+`)`, args...); err != nil {
			return err
		}
		// Their messages are gone, so those that had any open one still do.
		result, err := tx.ExecContext(ctx, `DELETE FROM episode WHERE state = ? AND NOT once AND ended_at < ?
			AND NOT EXISTS (SELECT 1 FROM message m WHERE m.episode = episode.id)`, Cleared, millis(before))
		if err != nil {
			return err
		}
		episodes, err = result.RowsAffected()
		return err
	})
	if err != nil {
		return 0, fmt.Errorf("prune the outbox: %w", err)
	}
	return episodes, nil
}
