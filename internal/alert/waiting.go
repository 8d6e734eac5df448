package alert

import (
	"context"
	"database/sql"
	"errors"
	"time"
)

// Waiting counts the messages that are still to be sent.
func (o *Outbox) Waiting(ctx context.Context) (n int64, err error) {
	err = o.db.Read.QueryRowContext(ctx, `SELECT count(*) FROM message WHERE status IN (?, ?, ?)`, Waiting, Sending, Failed).Scan(&n)
	return n, err
}

// LastDelivery returns how long the message that was sent last took from what it
// is of to its delivery, and whether one was ever sent.
func (o *Outbox) LastDelivery(ctx context.Context) (took time.Duration, found bool, err error) {
	var at, changed int64
	err = o.db.Read.QueryRowContext(ctx, `SELECT at, changed FROM message WHERE status = ? ORDER BY seq DESC LIMIT 1`, Sent).Scan(&at, &changed)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, false, nil
	}
	return fromMillis(changed).Sub(fromMillis(at)), err == nil, err
}
