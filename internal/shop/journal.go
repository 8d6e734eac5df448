package shop

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"sync"
	"time"

	"recoat/internal/sqldb"
)

// Journal is the finisher's record in one SQLite file. Its methods may be
// called at the same time; none of them looks at a clock.
type Journal struct {
	db *sqldb.DB

	mu       sync.Mutex
	watchers map[chan struct{}]struct{}
	told     int64 // the change up to which the watchers know
}

// OpenJournal opens the journal at path, making it where there is none.
func OpenJournal(ctx context.Context, path string) (*Journal, error) {
	db, err := sqldb.Open(ctx, path, schema)
	if err != nil {
		return nil, fmt.Errorf("the journal: %w", err)
	}
	j := &Journal{db: db, watchers: map[chan struct{}]struct{}{}}
	if err = j.indexAll(ctx); err == nil {
		j.told, err = j.Newest(ctx)
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("the journal: %w", err), db.Close())
	}
	return j, nil
}

// Close closes the file.
func (j *Journal) Close() error { return j.db.Close() }

// lookEvery is how long what another process changed can go unnoticed.
const lookEvery = time.Second

// Watch returns a channel that ticks after changes, once for several that come
// close together, and is closed when ctx ends. It ticks at once after what this
// Journal changed, and within a second or so after what another process did.
// What changed is read with Changes.
func (j *Journal) Watch(ctx context.Context) <-chan struct{} {
	tick := make(chan struct{}, 1)
	j.mu.Lock()
	j.watchers[tick] = struct{}{}
	j.mu.Unlock()
	go j.look(ctx, tick)
	return tick
}

// look asks the file for what others changed until ctx ends. A question that
// fails is asked again: whoever reads the journal meets the error itself.
func (j *Journal) look(ctx context.Context, tick chan struct{}) {
	every := time.NewTicker(lookEvery)
	defer every.Stop()
	for {
		select {
		case <-every.C:
			if seq, err := j.Newest(ctx); err == nil {
				j.tell(seq)
			}
		case <-ctx.Done():
			j.mu.Lock()
			defer j.mu.Unlock()
			delete(j.watchers, tick)
			close(tick)
			return
		}
	}
}

// Newest returns the number of the newest change; 0 before the first.
func (j *Journal) Newest(ctx context.Context) (seq int64, err error) {
	err = j.db.Read.QueryRowContext(ctx, `SELECT coalesce(max(seq), 0) FROM change`).Scan(&seq)
	return seq, err
}

// tell ticks if the change seq is news. Changes are committed in the order of
// their numbers, so a tick covers all that came before.
func (j *Journal) tell(seq int64) {
	j.mu.Lock()
	defer j.mu.Unlock()
	if seq <= j.told {
		return
	}
	j.told = seq
	for tick := range j.watchers {
		select {
		case tick <- struct{}{}:
		default: // one is waiting already, and it covers this change too
		}
	}
}

// Change is one thing done to the journal. Before and After are JSON, and null
// where there was nothing.
type Change struct {
	Seq     int64           `json:"seq"` // 1, 2, 3 … in order of the changes
	At      time.Time       `json:"at"`
	What    string          `json:"what"`    // such as "apply the coat"
	Subject string          `json:"subject"` // the id of what was changed
	Before  json.RawMessage `json:"before"`
	After   json.RawMessage `json:"after"`
	Who     string          `json:"who"`           // empty: the finisher
	Tap     string          `json:"tap"`           // the id that a page gave it; empty: none
	Made    time.Time       `json:"made,omitzero"` // on the page's own clock; zero: not told
}

// Changes calls each with the changes after the one with the number seq, in
// order; with 0, all of them.
func (j *Journal) Changes(ctx context.Context, seq int64, each func(Change) error) error {
	return j.changes(ctx, each, `seq > ? ORDER BY seq`, seq)
}

// ChangesOf returns the changes of what has an id, in order: its history.
func (j *Journal) ChangesOf(ctx context.Context, id string) ([]Change, error) {
	all := []Change{}
	err := j.changes(ctx, func(c Change) error { all = append(all, c); return nil }, `subject = ? ORDER BY seq`, id)
	return all, err
}

func (j *Journal) changes(ctx context.Context, each func(Change) error, which string, args ...any) error {
	rows, err := j.db.Read.QueryContext(ctx, `SELECT seq, at, what, subject, before, after, who, tap, made FROM change WHERE `+which, args...)
	if err != nil {
		return fmt.Errorf("read the changes: %w", err)
	}
	defer rows.Close()
	for rows.Next() {
		c, err := readChange(rows.Scan)
		if err != nil {
			return fmt.Errorf("read the changes: %w", err)
		}
		if err := each(c); err != nil {
			return err
		}
	}
	if err := rows.Err(); err != nil {
		return fmt.Errorf("read the changes: %w", err)
	}
	return nil
}

func readChange(scan scanner) (Change, error) {
	var c Change
	var at int64
	var made sql.NullInt64
	err := scan(&c.Seq, &at, &c.What, &c.Subject, (*[]byte)(&c.Before), (*[]byte)(&c.After), &c.Who, &c.Tap, &made)
	c.At, c.Made = fromMillis(at), orZero(made)
	return c, err
}

// step is what a transaction did, for the record of changes.
type step struct {
	subject       string
	before, after any
}

// errNothingToDo says that a transaction found everything as it should be. It is
// recorded only where a tap asked for it, so that the tap counts as taken.
var errNothingToDo = errors.New("nothing to do")

// change runs do in one transaction with the record of what it did, and returns
// the id of what was changed. A tap that was taken before changes nothing and
// gives the id that it gave then.
func (j *Journal) change(ctx context.Context, what string, at time.Time, do func(*sql.Tx) (step, error)) (subject string, err error) {
	tap, err := tapOf(ctx, at)
	if err != nil {
		return "", fmt.Errorf("%s: %w", what, err)
	}
	var seq int64
	err = j.db.Tx(ctx, func(tx *sql.Tx) error {
		var taken bool
		if subject, taken, err = tap.taken(ctx, tx, what); err != nil || taken {
			return err
		}
		s, err := do(tx)
		subject = s.subject
		if errors.Is(err, errNothingToDo) && tap.ID == "" {
			return nil
		}
		if err != nil && !errors.Is(err, errNothingToDo) {
			return err
		}
		seq, err = s.record(ctx, tx, what, at, tap)
		return err
	})
	if err != nil {
		return "", fmt.Errorf("%s: %w", what, err)
	}
	j.tell(seq)
	return subject, nil
}

// record adds the step to the record of changes and returns its number there.
func (s step) record(ctx context.Context, tx *sql.Tx, what string, at time.Time, tap Tap) (int64, error) {
	before, err := json.Marshal(s.before)
	if err != nil {
		return 0, err
	}
	after, err := json.Marshal(s.after)
	if err != nil {
		return 0, err
	}
	result, err := tx.ExecContext(ctx, `INSERT INTO change(at, what, subject, before, after, who, tap, made) VALUES (?, ?, ?, ?, ?, ?, ?, ?)`,
		at.UnixMilli(), what, s.subject, string(before), string(after), tap.Who, tap.ID, orNull(tap.Made))
	if err != nil {
		return 0, err
	}
	return result.LastInsertId()
}

func fromMillis(ms int64) time.Time { return time.UnixMilli(ms).UTC() }

// orZero is the inverse of orNull.
func orZero(ms sql.NullInt64) time.Time {
	if !ms.Valid {
		return time.Time{}
	}
	return fromMillis(ms.Int64)
}
