package access

import (
	"context"
	"database/sql"
	"fmt"
	"time"
)

// Entry is a line of the book: who came in or was refused, and what changed.
type Entry struct {
	At     time.Time `json:"at"`
	What   string    `json:"what"`
	Who    string    `json:"who"`    // the name as it was given; empty where there is none
	Origin string    `json:"origin"` // the address it came from; empty for the shell
}

// keptEntries bounds the book: guessing must not fill the card.
const keptEntries = 5000

func (b *Book) enter(ctx context.Context, tx *sql.Tx, what, who, origin string) error {
	if _, err := tx.ExecContext(ctx, `INSERT INTO entry(at, what, who, origin) VALUES (?, ?, ?, ?)`, b.now().UnixMilli(), what, who, origin); err != nil {
		return err
	}
	_, err := tx.ExecContext(ctx, `DELETE FROM entry WHERE seq <= (SELECT max(seq) FROM entry) - ?`, keptEntries)
	return err
}

// Entries returns the newest lines, newest first.
func (b *Book) Entries(ctx context.Context, limit int32) ([]Entry, error) {
	rows, err := b.db.Read.QueryContext(ctx, `SELECT at, what, who, origin FROM entry ORDER BY seq DESC LIMIT ?`, limit)
	if err != nil {
		return nil, fmt.Errorf("read the book of log-ins: %w", err)
	}
	defer rows.Close()
	var all []Entry
	for rows.Next() {
		var e Entry
		var at int64
		if err := rows.Scan(&at, &e.What, &e.Who, &e.Origin); err != nil {
			return nil, fmt.Errorf("read the book of log-ins: %w", err)
		}
		e.At = time.UnixMilli(at)
		all = append(all, e)
	}
	if err := rows.Err(); err != nil {
		return nil, fmt.Errorf("read the book of log-ins: %w", err)
	}
	return all, nil
}
