package alert

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"time"
)

// Standing is what a router takes up after a restart.
type Standing struct {
	Episodes  []Episode // raised or acknowledged
	Held      []Message // held back, in the order of the decisions
	Escalated []string  // those of Episodes that the second channels were told of
}

// Standing reads what a router needs to resume.
func (o *Outbox) Standing(ctx context.Context) (Standing, error) {
	var s Standing
	rows, err := o.db.Read.QueryContext(ctx, selectEpisode+`WHERE state IN (?, ?) ORDER BY since, id`, Raised, Acknowledged)
	if s.Episodes, err = collect(rows, err, scanEpisode); err != nil {
		return Standing{}, err
	}
	rows, err = o.db.Read.QueryContext(ctx, `SELECT `+messageColumns+` FROM message m WHERE status=5 ORDER BY seq`)
	if s.Held, err = collect(rows, err, scanMessage); err != nil {
		return Standing{}, err
	}
	rows, err = o.db.Read.QueryContext(ctx, `SELECT DISTINCT m.episode FROM message m JOIN episode e ON e.id=m.episode
		WHERE m.cause=? AND e.state IN (?, ?) ORDER BY 1`, Escalated, Raised, Acknowledged)
	s.Escalated, err = collect(rows, err, func(rows *sql.Rows) (id string, err error) { return id, rows.Scan(&id) })
	return s, err
}

// Collapse looks at what waits behind m, which is due and not begun. Where the
// episode's end does, all before it is folded into it and the end, which says
// both, is returned to be tried in m's place. An end that called for no message
// is said in m. The location of now is used for times.
func (o *Outbox) Collapse(ctx context.Context, m Message, now time.Time) (Message, error) {
	if m.Cause == Ended || m.Key.Rule == ruleDigest {
		return m, nil
	}
	next := m
	err := o.db.Tx(ctx, func(tx *sql.Tx) error {
		rows, err := tx.QueryContext(ctx, `SELECT `+messageColumns+` FROM message m
			WHERE status IN (0, 3) AND channel=? AND episode=? AND rule<>? ORDER BY seq`, m.Channel, m.Episode, ruleDigest)
		open, err := collect(rows, err, scanMessage)
		if err != nil {
			return err
		}
		i := slices.IndexFunc(open, func(m Message) bool { return m.Cause == Ended })
		if i < 1 {
			next, err = sayOver(ctx, tx, m, now)
			return err
		}
		next = withPast(open[i], open[:i], now)
		next.Attempts, next.Waited = m.Attempts, m.Waited
		return fold(ctx, tx, next, open[:i], now)
	})
	if err != nil {
		return m, fmt.Errorf("collapse what is late: %w", err)
	}
	return next, nil
}

func fold(ctx context.Context, tx *sql.Tx, into Message, past []Message, now time.Time) error {
	for _, m := range past {
		if _, err := tx.ExecContext(ctx, `UPDATE message SET status=?, note=?, changed=? WHERE id=?`,
			Folded, "over before it was sent, told with its end", millis(now), m.ID); err != nil {
			return err
		}
	}
	_, err := tx.ExecContext(ctx, `UPDATE message SET body=?, attempts=?, waited=? WHERE id=?`,
		into.Body, into.Attempts, into.Waited.Milliseconds(), into.ID)
	return err
}

// sayOver says in m that its episode has ended, where nothing else will.
func sayOver(ctx context.Context, tx *sql.Tx, m Message, now time.Time) (Message, error) {
	rows, err := tx.QueryContext(ctx, selectEpisode+`WHERE id=? AND state=? AND NOT EXISTS (
		SELECT 1 FROM message e WHERE e.episode=?1 AND e.channel=?3 AND e.cause=?4)`, m.Episode, Cleared, m.Channel, Ended)
	over, err := collect(rows, err, scanEpisode)
	if err == nil && len(over) > 0 {
		m.Body = clip(bodyOverByNow+m.Body, maxBody)
	}
	return m, err
}

// Trouble is a channel whose last try failed.
type Trouble struct {
	Channel string
	Since   time.Time // when the oldest message that waits was decided
	Why     string    // without secrets
}

// Troubles returns the channels that have messages which failed, by name.
func (o *Outbox) Troubles(ctx context.Context) ([]Trouble, error) {
	// SQLite takes the bare column from the row of the minimum.
	rows, err := o.db.Read.QueryContext(ctx, `SELECT channel, min(at), note FROM message WHERE status=? GROUP BY channel ORDER BY channel`, Failed)
	return collect(rows, err, func(rows *sql.Rows) (t Trouble, err error) {
		var at int64
		err = rows.Scan(&t.Channel, &at, &t.Why)
		t.Since = fromMillis(at)
		return t, err
	})
}
