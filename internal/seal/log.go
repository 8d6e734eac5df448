package seal

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"recoat/internal/sqldb"
)

// schema: a link is the JSON of a Seal. Links and indexes are added, never
// altered; the rows of the journal are those of its newest seal.
func schema() sqldb.Schema {
	return sqldb.Schema{ApplicationID: 0x7263736c, Migrations: []string{`
CREATE TABLE link(
	seq  INTEGER PRIMARY KEY,
	room TEXT NOT NULL, -- empty: the journal
	day  TEXT NOT NULL,
	text TEXT NOT NULL
) STRICT;
CREATE INDEX link_day ON link(room, day, seq);
CREATE TABLE marks(
	seq  INTEGER PRIMARY KEY REFERENCES link(seq),
	text TEXT NOT NULL
) STRICT;
CREATE TABLE journal_row(
	tab    TEXT NOT NULL,
	key    TEXT NOT NULL,
	digest BLOB NOT NULL,
	PRIMARY KEY (tab, key)
) STRICT, WITHOUT ROWID;
CREATE TRIGGER link_kept BEFORE UPDATE ON link
BEGIN SELECT RAISE(ABORT, 'a seal is never altered'); END;
CREATE TRIGGER link_whole BEFORE DELETE ON link
BEGIN SELECT RAISE(ABORT, 'no seal is taken out'); END;
`}}
}

// Log keeps the seals in one file.
type Log struct{ db *sqldb.DB }

// OpenLog opens or makes the file at path.
func OpenLog(ctx context.Context, path string) (*Log, error) {
	db, err := sqldb.Open(ctx, path, schema())
	if err != nil {
		return nil, fmt.Errorf("the seals: %w", err)
	}
	return &Log{db: db}, nil
}

// Close closes the file.
func (l *Log) Close() error { return l.db.Close() }

// ErrBroken says that the chain of seals does not hold together.
var ErrBroken = errors.New("the chain of seals is broken")

// Seals returns every seal in order. It does not judge them.
func (l *Log) Seals(ctx context.Context) ([]Seal, error) {
	return l.seals(ctx, `SELECT text FROM link ORDER BY seq`)
}

// Newest returns the newest seal of each day of a room, in order of day.
func (l *Log) Newest(ctx context.Context, room string) ([]Seal, error) {
	return l.seals(ctx, `SELECT text FROM link WHERE seq IN (SELECT max(seq) FROM link WHERE room = ? GROUP BY day) ORDER BY day`, room)
}

// Journal returns the newest seal of the journal, and whether there is one.
func (l *Log) Journal(ctx context.Context) (Seal, bool, error) {
	all, err := l.seals(ctx, `SELECT text FROM link WHERE room = '' ORDER BY seq DESC LIMIT 1`)
	if err != nil || len(all) == 0 {
		return Seal{}, false, err
	}
	return all[0], true, nil
}

func (l *Log) seals(ctx context.Context, query string, args ...any) ([]Seal, error) {
	texts, err := columns[string](ctx, l.db.Read, query, args...)
	if err != nil {
		return nil, fmt.Errorf("read the seals: %w", err)
	}
	all := make([]Seal, len(texts))
	for i, text := range texts {
		if err := json.Unmarshal([]byte(text), &all[i]); err != nil {
			return nil, fmt.Errorf("%w: seal %d of %d cannot be read", ErrBroken, i+1, len(texts))
		}
	}
	return all, nil
}

// index returns the index that a seal names rounds by; empty where it is gone
// or altered.
func (l *Log) index(ctx context.Context, s Seal) (Index, error) {
	texts, err := columns[string](ctx, l.db.Read, `SELECT text FROM marks WHERE seq = ?`, s.Seq)
	if err != nil {
		return nil, fmt.Errorf("read the seals: %w", err)
	}
	var x Index
	if len(texts) != 1 || Digest(sha256.Sum256([]byte(texts[0]))) != s.Index || json.Unmarshal([]byte(texts[0]), &x) != nil {
		return nil, nil
	}
	return x, nil
}

// append adds a seal at the end of the chain, with the index of a day or the
// rows of the journal, and returns it whole.
func (l *Log) append(ctx context.Context, s Seal, x Index, rows map[rowKey]Digest) (Seal, error) {
	err := l.db.Tx(ctx, func(tx *sql.Tx) error {
		var last string
		err := tx.QueryRowContext(ctx, `SELECT text FROM link ORDER BY seq DESC LIMIT 1`).Scan(&last)
		var before Seal
		switch {
		case errors.Is(err, sql.ErrNoRows):
		case err != nil:
			return err
		default:
			if err := json.Unmarshal([]byte(last), &before); err != nil {
				return fmt.Errorf("%w: the last seal cannot be read", ErrBroken)
			}
		}
		s.Seq, s.Prev = before.Seq+1, before.Hash
		marks, err := json.Marshal(x)
		if err != nil {
			return err
		}
		if s.Room != "" {
			s.Index = sha256.Sum256(marks)
		}
		s = s.Closed()
		if err := s.insert(ctx, tx); err != nil {
			return err
		}
		if s.Room != "" {
			_, err = tx.ExecContext(ctx, `INSERT INTO marks(seq, text) VALUES (?, ?)`, s.Seq, string(marks))
			return err
		}
		return replaceRows(ctx, tx, rows)
	})
	if err != nil {
		return s, fmt.Errorf("add a seal: %w", err)
	}
	return s, nil
}

func (s Seal) insert(ctx context.Context, tx *sql.Tx) error {
	text, err := json.Marshal(s)
	if err == nil {
		_, err = tx.ExecContext(ctx, `INSERT INTO link(seq, room, day, text) VALUES (?, ?, ?, ?)`, s.Seq, s.Room, s.Day, string(text))
	}
	return err
}

// rowKey names a row of the journal.
type rowKey struct{ table, key string }

func replaceRows(ctx context.Context, tx *sql.Tx, rows map[rowKey]Digest) error {
	if _, err := tx.ExecContext(ctx, `DELETE FROM journal_row`); err != nil {
		return err
	}
	add, err := tx.PrepareContext(ctx, `INSERT INTO journal_row(tab, key, digest) VALUES (?, ?, ?)`)
	if err != nil {
		return err
	}
	defer add.Close()
	for k, d := range rows {
		if _, err := add.ExecContext(ctx, k.table, k.key, d[:]); err != nil {
			return err
		}
	}
	return nil
}

// rows returns the rows of the journal's newest seal.
func (l *Log) rows(ctx context.Context) (map[rowKey]Digest, error) {
	found, err := l.db.Read.QueryContext(ctx, `SELECT tab, key, digest FROM journal_row`)
	if err != nil {
		return nil, fmt.Errorf("read the seals: %w", err)
	}
	defer found.Close()
	all := map[rowKey]Digest{}
	for found.Next() {
		var k rowKey
		var raw []byte
		if err := found.Scan(&k.table, &k.key, &raw); err != nil {
			return nil, fmt.Errorf("read the seals: %w", err)
		}
		var d Digest
		copy(d[:], raw)
		all[k] = d
	}
	return all, found.Err()
}

// rootOf is the root of the journal's rows.
func rootOf(rows map[rowKey]Digest) Digest {
	lines := make([]string, 0, len(rows))
	for k, d := range rows {
		lines = append(lines, fmt.Sprintf("%q %q %s", k.table, k.key, d))
	}
	slices.Sort(lines)
	return ofText(lines)
}

func columns[T any](ctx context.Context, db *sql.DB, query string, args ...any) ([]T, error) {
	rows, err := db.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var all []T
	for rows.Next() {
		var v T
		if err := rows.Scan(&v); err != nil {
			return nil, err
		}
		all = append(all, v)
	}
	return all, rows.Err()
}
