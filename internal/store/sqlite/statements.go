package sqlite

import (
	"context"
	"database/sql"
)

// statement is one of those that most commits need.
type statement uint8

const (
	findBlock statement = iota
	spanBlock
	measureBlock
	widenBlock
	insertRound
	putSegment
	addRollup
	addSome
	addMany
	statementCount
)

// How many rollups one statement of addSome and of addMany writes: a node's
// channels often are three.
const (
	someRollups = 3
	manyRollups = 16
)

// text returns a statement's SQL.
func (s statement) text() string {
	switch s {
	case findBlock:
		return `SELECT s.data FROM block k LEFT JOIN segment s ON s.id = k.id WHERE k.id = ?`
	case spanBlock:
		return `INSERT INTO block(id, lo, hi) VALUES (?, ?, ?) ON CONFLICT DO UPDATE SET lo = excluded.lo, hi = excluded.hi`
	case measureBlock:
		return `INSERT INTO block(id, lo, hi) SELECT ?1, min(at), max(at) FROM round WHERE id BETWEEN ?1 AND ?2
			ON CONFLICT DO UPDATE SET lo = excluded.lo, hi = excluded.hi`
	case widenBlock:
		return `UPDATE block SET lo = min(lo, ?2), hi = max(hi, ?3) WHERE id = ?1`
	case insertRound:
		return `INSERT INTO round(id, at, data) VALUES (?, ?, ?) ON CONFLICT DO NOTHING`
	case putSegment:
		return `INSERT INTO segment(id, data) VALUES (?, ?) ON CONFLICT DO UPDATE SET data = excluded.data`
	case addMany:
		return rollupText(manyRollups)
	case addSome:
		return rollupText(someRollups)
	default:
		return rollupText(1)
	}
}

// rollupText returns the statement that adds so many tallies to rollups. min
// and max of a NULL are NULL, so the side that has no good reading borrows the
// other's.
func rollupText(rows int) string {
	text := `INSERT INTO rollup(width, start, series, good, other, lo, hi, sum) VALUES (?, ?, ?, ?, ?, ?, ?, ?)`
	for range rows - 1 {
		text += `, (?, ?, ?, ?, ?, ?, ?, ?)`
	}
	return text + ` ON CONFLICT DO UPDATE SET good = good + excluded.good, other = other + excluded.other, sum = sum + excluded.sum,
		lo = min(coalesce(lo, excluded.lo), coalesce(excluded.lo, lo)),
		hi = max(coalesce(hi, excluded.hi), coalesce(excluded.hi, hi))`
}

// compiled are the statements of the connection that writes: compiling them
// takes longer than a small commit.
type compiled [statementCount]*sql.Stmt

func compile(ctx context.Context, db *sql.DB) (c compiled, err error) {
	for s := range statementCount {
		if c[s], err = db.PrepareContext(ctx, s.text()); err != nil { //nolint:sqlclosecheck // closing the database closes them
			return c, err
		}
	}
	return c, nil
}

// in returns the statement as it is run within the batch's transaction.
func (b *batch) in(s statement) *sql.Stmt {
	if b.statements[s] == nil {
		b.statements[s] = b.tx.StmtContext(b.ctx, b.compiled[s]) //nolint:sqlclosecheck // the end of the transaction closes it
	}
	return b.statements[s]
}

func (b *batch) exec(s statement, args ...any) (sql.Result, error) {
	compiled := b.in(s) //nolint:sqlclosecheck // the end of the transaction closes it
	return compiled.ExecContext(b.ctx, args...)
}

func (b *batch) row(s statement, args ...any) *sql.Row {
	compiled := b.in(s) //nolint:sqlclosecheck // the end of the transaction closes it
	return compiled.QueryRowContext(b.ctx, args...)
}
