package alert

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"recoat/internal/sqldb"
)

// outboxSchema: times are milliseconds since 1970 in UTC, 0 for none; enums are
// the numbers of their constants.
func outboxSchema() sqldb.Schema {
	return sqldb.Schema{ApplicationID: 0x7263616c, Migrations: []string{`
CREATE TABLE episode(
	id TEXT PRIMARY KEY,
	rule TEXT NOT NULL, room TEXT NOT NULL, subject TEXT NOT NULL,
	state INTEGER NOT NULL, severity INTEGER NOT NULL,
	title TEXT NOT NULL, body TEXT NOT NULL,
	since INTEGER NOT NULL, raised_at INTEGER NOT NULL, ended_at INTEGER NOT NULL,
	once INTEGER NOT NULL, told INTEGER NOT NULL
) WITHOUT ROWID;
CREATE TABLE message(
	seq INTEGER PRIMARY KEY,
	id TEXT NOT NULL UNIQUE,
	episode TEXT NOT NULL REFERENCES episode(id),
	rule TEXT NOT NULL, room TEXT NOT NULL, subject TEXT NOT NULL,
	cause INTEGER NOT NULL, channel TEXT NOT NULL, severity INTEGER NOT NULL,
	title TEXT NOT NULL, body TEXT NOT NULL, at INTEGER NOT NULL,
	status INTEGER NOT NULL, attempts INTEGER NOT NULL,
	next_try INTEGER NOT NULL, waited INTEGER NOT NULL,
	note TEXT NOT NULL, changed INTEGER NOT NULL
);
CREATE INDEX message_open ON message(channel, episode, seq) WHERE status IN (0, 1, 3);
`, `
ALTER TABLE episode ADD COLUMN snoozed_until INTEGER NOT NULL DEFAULT 0;
CREATE INDEX message_held ON message(seq) WHERE status=5;
CREATE TABLE spent(nonce TEXT PRIMARY KEY, expires INTEGER NOT NULL) WITHOUT ROWID;
CREATE TABLE push(
	endpoint TEXT PRIMARY KEY,
	p256dh BLOB NOT NULL, auth BLOB NOT NULL, added INTEGER NOT NULL
) WITHOUT ROWID;
`, `
CREATE TABLE wish(
	id TEXT PRIMARY KEY,
	room TEXT NOT NULL, coat TEXT NOT NULL, stage TEXT NOT NULL,
	ahead INTEGER NOT NULL, made INTEGER NOT NULL, granted INTEGER NOT NULL
) WITHOUT ROWID;
CREATE TABLE trial(
	channel TEXT PRIMARY KEY,
	at INTEGER NOT NULL, took INTEGER NOT NULL, failed TEXT NOT NULL
) WITHOUT ROWID;
CREATE INDEX message_sent ON message(channel, changed) WHERE status=2;
`}}
}

// Outbox keeps what was decided and what became of it. A decision and its
// messages are written together, and every try is written before and after it.
type Outbox struct {
	db      *sqldb.DB
	changed chan struct{}
}

// ErrNoMessage says that no message is in the state that a change needs.
var ErrNoMessage = errors.New("no such message in a state that allows this")

// OpenOutbox opens or creates the outbox at path.
func OpenOutbox(ctx context.Context, path string) (*Outbox, error) {
	db, err := sqldb.Open(ctx, path, outboxSchema())
	if err != nil {
		return nil, fmt.Errorf("open the outbox: %w", err)
	}
	return &Outbox{db: db, changed: make(chan struct{}, 1)}, nil
}

// Close closes the file.
func (o *Outbox) Close() error { return o.db.Close() }

// Changed receives after messages were committed; it is for one courier.
func (o *Outbox) Changed() <-chan struct{} { return o.changed }

// Commit writes the episodes as the transitions leave them and the messages, in
// one transaction. Doing it twice changes nothing. An episode that ended before
// it was raised leaves no trace.
func (o *Outbox) Commit(ctx context.Context, transitions []Transition, messages []Message) error {
	err := o.db.Tx(ctx, func(tx *sql.Tx) error {
		for _, t := range transitions {
			if err := putEpisode(ctx, tx, t); err != nil {
				return fmt.Errorf("episode %s: %w", t.Episode.ID, err)
			}
			if err := grant(ctx, tx, t); err != nil {
				return fmt.Errorf("wish %s: %w", t.Wish, err)
			}
		}
		for _, m := range messages {
			if err := putMessage(ctx, tx, m); err != nil {
				return fmt.Errorf("message %s: %w", m.ID, err)
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("commit to the outbox: %w", err)
	}
	if len(messages) > 0 {
		select {
		case o.changed <- struct{}{}:
		default:
		}
	}
	return nil
}

func putEpisode(ctx context.Context, tx *sql.Tx, t Transition) error {
	e := t.Episode
	if t.lapsed() {
		_, err := tx.ExecContext(ctx, `DELETE FROM episode WHERE id=?`, e.ID)
		return err
	}
	_, err := tx.ExecContext(ctx, `INSERT INTO episode
		(id, rule, room, subject, state, severity, title, body, since, raised_at, ended_at, once, told, snoozed_until)
		VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?)
		ON CONFLICT(id) DO UPDATE SET state=excluded.state, severity=excluded.severity, title=excluded.title,
		body=excluded.body, raised_at=excluded.raised_at, ended_at=excluded.ended_at, told=excluded.told,
		snoozed_until=excluded.snoozed_until`,
		e.ID, e.Key.Rule, e.Key.Room, e.Key.Subject, e.State, e.Severity, e.Title, e.Body,
		millis(e.Since), millis(e.RaisedAt), millis(e.EndedAt), e.Once, e.Told, millis(e.SnoozedUntil))
	return err
}

func putMessage(ctx context.Context, tx *sql.Tx, m Message) error {
	status := Waiting
	if m.Status == Held {
		status = Held
	}
	_, err := tx.ExecContext(ctx, `INSERT INTO message
		(id, episode, rule, room, subject, cause, channel, severity, title, body, at, status, attempts, next_try, waited, note, changed)
		VALUES (?,?,?,?,?,?,?,?,?,?,?,?,0,0,0,'',?) ON CONFLICT(id) DO NOTHING`,
		m.ID, m.Episode, m.Key.Rule, m.Key.Room, m.Key.Subject, m.Cause, m.Channel, m.Severity,
		m.Title, m.Body, millis(m.At), status, millis(m.At))
	for _, id := range m.Folds {
		if err == nil {
			_, err = tx.ExecContext(ctx, `UPDATE message SET status=?, note=?, changed=? WHERE id=? AND status=?`,
				Folded, "told within a later message", millis(m.At), id, Held)
		}
	}
	return err
}

// Episodes returns every episode kept, newest first: those that are not over,
// those told once for ever, and up to limit of the others that are over.
func (o *Outbox) Episodes(ctx context.Context, limit int32) ([]Episode, error) {
	rows, err := o.db.Read.QueryContext(ctx, selectEpisode+`WHERE state<>? OR once
		UNION ALL SELECT * FROM (`+selectEpisode+`WHERE state=? AND NOT once ORDER BY since DESC LIMIT ?)
		ORDER BY since DESC, id`, Cleared, Cleared, limit)
	return collect(rows, err, scanEpisode)
}

// Messages returns the newest messages, newest first.
func (o *Outbox) Messages(ctx context.Context, limit int32) ([]Message, error) {
	rows, err := o.db.Read.QueryContext(ctx, `SELECT `+messageColumns+` FROM message m ORDER BY seq DESC LIMIT ?`, limit)
	return collect(rows, err, scanMessage)
}

const selectEpisode = `SELECT id, rule, room, subject, state, severity, title, body, since, raised_at, ended_at, once, told, snoozed_until FROM episode `

const messageColumns = `m.id, m.episode, m.rule, m.room, m.subject, m.cause, m.channel, m.severity,
	m.title, m.body, m.at, m.status, m.attempts, m.next_try, m.waited, m.note, m.changed`

func scanEpisode(rows *sql.Rows) (e Episode, err error) {
	var since, raised, ended, snoozed int64
	err = rows.Scan(&e.ID, &e.Key.Rule, &e.Key.Room, &e.Key.Subject, &e.State, &e.Severity, &e.Title, &e.Body,
		&since, &raised, &ended, &e.Once, &e.Told, &snoozed)
	e.Since, e.RaisedAt, e.EndedAt, e.SnoozedUntil = fromMillis(since), fromMillis(raised), fromMillis(ended), fromMillis(snoozed)
	return e, err
}

func scanMessage(rows *sql.Rows) (m Message, err error) {
	var at, next, waited, changed int64
	err = rows.Scan(&m.ID, &m.Episode, &m.Key.Rule, &m.Key.Room, &m.Key.Subject, &m.Cause, &m.Channel, &m.Severity,
		&m.Title, &m.Body, &at, &m.Status, &m.Attempts, &next, &waited, &m.Note, &changed)
	m.At, m.NextTry, m.Changed = fromMillis(at), fromMillis(next), fromMillis(changed)
	m.Waited = time.Duration(waited) * time.Millisecond
	return m, err
}

func collect[T any](rows *sql.Rows, err error, scan func(*sql.Rows) (T, error)) ([]T, error) {
	if err != nil {
		return nil, fmt.Errorf("read the outbox: %w", err)
	}
	defer func() { _ = rows.Close() }()
	var all []T
	for rows.Next() {
		one, err := scan(rows)
		if err != nil {
			return nil, fmt.Errorf("read the outbox: %w", err)
		}
		all = append(all, one)
	}
	if err := rows.Err(); err != nil {
		return nil, fmt.Errorf("read the outbox: %w", err)
	}
	return all, nil
}

func millis(t time.Time) int64 {
	if t.IsZero() {
		return 0
	}
	return t.UnixMilli()
}

func fromMillis(ms int64) time.Time {
	if ms == 0 {
		return time.Time{}
	}
	return time.UnixMilli(ms).UTC()
}
