package alert

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"
)

// mostSubscriptions is how many browsers may be subscribed.
const mostSubscriptions = 32

// ErrTooManySubscriptions says that no other browser can be subscribed.
var ErrTooManySubscriptions = errors.New("too many browsers are subscribed: remove one first")

// PushSubscription is where one browser is reached. Whoever has the Endpoint
// can send to it: it is a secret.
type PushSubscription struct {
	Endpoint string
	Key      []byte // the browser's point of P-256, uncompressed
	Auth     []byte // 16 bytes
}

// Subscribe keeps a subscription; the same endpoint again replaces its keys.
func (o *Outbox) Subscribe(ctx context.Context, s PushSubscription, now time.Time) error {
	err := o.db.Tx(ctx, func(tx *sql.Tx) error {
		var others int32
		if err := tx.QueryRowContext(ctx, `SELECT count(*) FROM push WHERE endpoint<>?`, s.Endpoint).Scan(&others); err != nil {
			return err
		}
		if others >= mostSubscriptions {
			return ErrTooManySubscriptions
		}
		_, err := tx.ExecContext(ctx, `INSERT INTO push(endpoint, p256dh, auth, added) VALUES (?,?,?,?)
			ON CONFLICT(endpoint) DO UPDATE SET p256dh=excluded.p256dh, auth=excluded.auth`, s.Endpoint, s.Key, s.Auth, millis(now))
		return err
	})
	if err != nil {
		return fmt.Errorf("keep a subscription: %w", err)
	}
	return nil
}

// Unsubscribe forgets an endpoint; one that is not kept is no error.
func (o *Outbox) Unsubscribe(ctx context.Context, endpoint string) error {
	if _, err := o.db.Write.ExecContext(ctx, `DELETE FROM push WHERE endpoint=?`, endpoint); err != nil {
		return fmt.Errorf("forget a subscription: %w", err)
	}
	return nil
}

// Subscriptions returns all that are kept, oldest first.
func (o *Outbox) Subscriptions(ctx context.Context) ([]PushSubscription, error) {
	rows, err := o.db.Read.QueryContext(ctx, `SELECT endpoint, p256dh, auth FROM push ORDER BY added, endpoint`)
	return collect(rows, err, func(rows *sql.Rows) (s PushSubscription, err error) {
		return s, rows.Scan(&s.Endpoint, &s.Key, &s.Auth)
	})
}
