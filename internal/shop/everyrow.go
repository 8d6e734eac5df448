package shop

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
)

// Row is one row of one of the journal's tables, as it stands in the file.
type Row struct {
	Table  string
	Key    string // the values of its key, with a space between them
	Values []byte // JSON: every column, in the order of the table
}

// EveryRow calls each with every row of every table, the record of changes too,
// as they are at one instant, and returns the number of the newest change. The
// order is that of the tables and their keys.
func (j *Journal) EveryRow(ctx context.Context, each func(Row) error) (newest int64, err error) {
	tx, err := j.db.Read.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return 0, fmt.Errorf("read every row: %w", err)
	}
	defer func() { err = errors.Join(err, tx.Rollback()) }()
	if err := tx.QueryRowContext(ctx, `SELECT coalesce(max(seq), 0) FROM change`).Scan(&newest); err != nil {
		return 0, fmt.Errorf("read every row: %w", err)
	}
	tables, err := layout(ctx, tx)
	if err != nil {
		return 0, fmt.Errorf("read every row: %w", err)
	}
	for _, t := range tables {
		if err := t.each(ctx, tx, each); err != nil {
			return 0, fmt.Errorf("read every row: the table %s: %w", t.name, err)
		}
	}
	return newest, nil
}

func (t table) each(ctx context.Context, from querier, each func(Row) error) error {
	keys := strings.Split(t.key, ", ")
	_, err := queryRows(ctx, from, func(scan scanner) (struct{}, error) {
		row, into := make([]any, len(t.columns)), make([]any, len(t.columns))
		for i := range row {
			into[i] = &row[i]
		}
		if err := scan(into...); err != nil {
			return struct{}{}, err
		}
		var key []string
		for i, column := range t.columns {
			for _, k := range keys {
				if k == column {
					key = append(key, fmt.Sprint(row[i]))
				}
			}
		}
		text, err := json.Marshal(row)
		if err != nil {
			return struct{}{}, err
		}
		return struct{}{}, each(Row{Table: t.name, Key: strings.Join(key, " "), Values: text})
	}, `SELECT * FROM `+t.name+` ORDER BY `+t.key)
	return err
}
