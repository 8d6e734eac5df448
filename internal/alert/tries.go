package alert

import (
	"context"
	"database/sql"
	"fmt"
	"time"
)

// Due returns, for each channel, the next message to try: the gravest, then the
// one decided first. Of one episode nothing overtakes what was to be said
// before it. A try that failed at a time still to come failed before the clock
// stepped back, and is due.
func (o *Outbox) Due(ctx context.Context, now time.Time) ([]Message, error) {
	rows, err := o.db.Read.QueryContext(ctx, `SELECT `+messageColumns+` FROM (
		SELECT *, row_number() OVER (PARTITION BY channel ORDER BY severity DESC, seq) AS place FROM message d
		WHERE status IN (0, 3) AND (status=0 OR next_try<=?1 OR changed>?1) AND NOT EXISTS (
			SELECT 1 FROM message e WHERE e.status IN (0, 1, 3) AND e.channel=d.channel AND e.episode=d.episode AND e.seq<d.seq)
		) m WHERE place=1 ORDER BY severity DESC, seq`, millis(now))
	return collect(rows, err, scanMessage)
}

// NextTry returns when the next failed message is to be tried again; it is
// false where none is.
func (o *Outbox) NextTry(ctx context.Context) (time.Time, bool, error) {
	var ms sql.NullInt64
	if err := o.db.Read.QueryRowContext(ctx, `SELECT min(next_try) FROM message WHERE status=3`).Scan(&ms); err != nil {
		return time.Time{}, false, fmt.Errorf("read the outbox: %w", err)
	}
	return fromMillis(ms.Int64), ms.Valid, nil
}

// Recover makes every message that was being tried when the last run ended due
// at once: nobody knows whether it arrived. It is called before the first
// Begin of a run.
func (o *Outbox) Recover(ctx context.Context, now time.Time) error {
	_, err := o.db.Write.ExecContext(ctx, `UPDATE message SET status=?, next_try=0, note=?, changed=? WHERE status=?`,
		Failed, "the hub stopped before it knew whether this had arrived", millis(now), Sending)
	if err != nil {
		return fmt.Errorf("recover the outbox: %w", err)
	}
	return nil
}

// Begin notes that a message is about to be tried.
func (o *Outbox) Begin(ctx context.Context, id string, now time.Time) error {
	return o.change(ctx, `UPDATE message SET status=1, attempts=attempts+1, changed=? WHERE id=? AND status IN (0, 3)`, millis(now), id)
}

// Done notes that the channel took a message.
func (o *Outbox) Done(ctx context.Context, id string, now time.Time) error {
	return o.change(ctx, `UPDATE message SET status=2, note='', changed=? WHERE id=? AND status=1`, millis(now), id)
}

// Retry notes that a try failed, why, and that another follows after pause.
func (o *Outbox) Retry(ctx context.Context, id string, now time.Time, pause time.Duration, why string) error {
	return o.change(ctx, `UPDATE message SET status=3, next_try=?, waited=waited+?, note=?, changed=? WHERE id=? AND status=1`,
		millis(now.Add(pause)), pause.Milliseconds(), why, millis(now), id)
}

// Drop gives a message up and notes why.
func (o *Outbox) Drop(ctx context.Context, id string, now time.Time, why string) error {
	return o.change(ctx, `UPDATE message SET status=4, note=?, changed=? WHERE id=? AND status IN (0, 1, 3)`, why, millis(now), id)
}

func (o *Outbox) change(ctx context.Context, statement string, args ...any) error {
	result, err := o.db.Write.ExecContext(ctx, statement, args...)
	if err != nil {
		return fmt.Errorf("write to the outbox: %w", err)
	}
	if n, err := result.RowsAffected(); err != nil || n != 1 {
		return fmt.Errorf("write to the outbox: %w", ErrNoMessage)
	}
	return nil
}
