package influx

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"recoat/internal/sqldb"
	"recoat/sensors"
)

// queueSchema: waiting holds rounds in the order in which they were appended,
// dirty the hours whose rollups have to be drawn up anew, aside what the server
// will not take.
func queueSchema() sqldb.Schema {
	return sqldb.Schema{ApplicationID: 0x7263_6971, Migrations: []string{`
CREATE TABLE waiting(id INTEGER PRIMARY KEY AUTOINCREMENT, room TEXT NOT NULL, node TEXT NOT NULL, boot TEXT NOT NULL, at INTEGER NOT NULL, data TEXT NOT NULL) STRICT;
CREATE TABLE dirty(room TEXT NOT NULL, node TEXT NOT NULL, start INTEGER NOT NULL, PRIMARY KEY(room, node, start)) STRICT, WITHOUT ROWID;
CREATE TABLE aside(id INTEGER PRIMARY KEY, room TEXT NOT NULL, node TEXT NOT NULL, boot TEXT NOT NULL, at INTEGER NOT NULL, data TEXT NOT NULL, reason TEXT NOT NULL, noted INTEGER NOT NULL) STRICT;`}}
}

type queue struct{ db *sqldb.DB }

// entry is a round of the queue.
type entry struct {
	id    int64
	room  string
	round sensors.Round
}

// hour is one whose rollups are to be drawn up anew.
type hour struct {
	room, node string
	start      int64 // Unix milliseconds
}

// Stats counts what is on its way.
type Stats struct {
	Waiting int64 // rounds not yet on the server
	Dirty   int64 // hours whose rollups are behind
	Aside   int64 // rounds that the server refused for good, kept in the queue's file
}

func (q *queue) stats(ctx context.Context) (st Stats, err error) {
	err = q.db.Read.QueryRowContext(ctx, `SELECT (SELECT count(*) FROM waiting), (SELECT count(*) FROM dirty), (SELECT count(*) FROM aside)`).
		Scan(&st.Waiting, &st.Dirty, &st.Aside)
	return st, err
}

func (q *queue) add(ctx context.Context, room string, rounds []sensors.Round) error {
	return q.db.Tx(ctx, func(tx *sql.Tx) error {
		insert, err := tx.PrepareContext(ctx, `INSERT INTO waiting(room, node, boot, at, data) VALUES (?, ?, ?, ?, ?)`)
		if err != nil {
			return err
		}
		defer insert.Close()
		for _, r := range rounds {
			if _, err := insert.ExecContext(ctx, room, r.Node, r.Boot, r.Time.UnixMilli(), encode(r)); err != nil {
				return err
			}
		}
		return nil
	})
}

// first returns the oldest entries.
func (q *queue) first(ctx context.Context, limit int) ([]entry, error) {
	rows, err := q.db.Read.QueryContext(ctx, `SELECT id, room, node, boot, at, data FROM waiting ORDER BY id LIMIT ?`, limit)
	if err != nil {
		return nil, err
	}
	defer func() { _ = rows.Close() }()
	var entries []entry
	for rows.Next() {
		var e entry
		var at int64
		var data string
		if err := rows.Scan(&e.id, &e.room, &e.round.Node, &e.round.Boot, &at, &data); err != nil {
			return nil, err
		}
		e.round.Time = time.UnixMilli(at).UTC()
		if err := decode(&e.round, data); err != nil {
			return nil, fmt.Errorf("entry %d of the queue: %w", e.id, err)
		}
		entries = append(entries, e)
	}
	return entries, rows.Err()
}

// mark notes hours before anything in them changes on the server.
func (q *queue) mark(ctx context.Context, hours map[hour]struct{}) error {
	return q.db.Tx(ctx, func(tx *sql.Tx) error {
		for h := range hours {
			if _, err := tx.ExecContext(ctx, `INSERT INTO dirty(room, node, start) VALUES (?, ?, ?) ON CONFLICT DO NOTHING`, h.room, h.node, h.start); err != nil {
				return err
			}
		}
		return nil
	})
}

func (q *queue) dirty(ctx context.Context) (hours []hour, err error) {
	rows, err := q.db.Read.QueryContext(ctx, `SELECT room, node, start FROM dirty`)
	if err != nil {
		return nil, err
	}
	defer func() { _ = rows.Close() }()
	for rows.Next() {
		var h hour
		if err := rows.Scan(&h.room, &h.node, &h.start); err != nil {
			return nil, err
		}
		hours = append(hours, h)
	}
	return hours, rows.Err()
}

func (q *queue) clean(ctx context.Context, h hour) error {
	_, err := q.db.Write.ExecContext(ctx, `DELETE FROM dirty WHERE room = ? AND node = ? AND start = ?`, h.room, h.node, h.start)
	return err
}

// settle lets go of entries up to the last of them, which are on the server but
// for the refused ones: those are put aside with the reason.
func (q *queue) settle(ctx context.Context, entries []entry, refused map[int64]string) error {
	return q.db.Tx(ctx, func(tx *sql.Tx) error {
		for id, reason := range refused {
			_, err := tx.ExecContext(ctx, `INSERT INTO aside(room, node, boot, at, data, reason, noted)
				SELECT room, node, boot, at, data, ?, ? FROM waiting WHERE id = ?`, reason, time.Now().UnixMilli(), id)
			if err != nil {
				return err
			}
		}
		_, err := tx.ExecContext(ctx, `DELETE FROM waiting WHERE id <= ?`, entries[len(entries)-1].id)
		return err
	})
}
