package shop

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// Row is one row of one of the journal's tables, as it stands in the file.
type Row struct {
	Table string
	Key   string // the values of its key, with a space between them
	// Values is JSON: a list of names of columns, each followed by its value.
	// A column that holds its default is left out, so that a row stays the same
	// when a later version adds columns.
	Values []byte
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
	absent, err := defaults(ctx, tx)
	if err != nil {
		return 0, fmt.Errorf("read every row: %w", err)
	}
	for _, t := range tables {
		if err := t.each(ctx, tx, absent, each); err != nil {
			return 0, fmt.Errorf("read every row: the table %s: %w", t.name, err)
		}
	}
	return newest, nil
}

// defaults returns what each column holds where nothing was put into it, as
// SQL writes it, by table and column; NULL where it is not in there.
func defaults(ctx context.Context, tx *sql.Tx) (map[string]string, error) {
	all := map[string]string{}
	_, err := queryRows(ctx, tx, func(scan scanner) (struct{}, error) {
		var table, column, text string
		err := scan(&table, &column, &text)
		all[table+"."+column] = text
		return struct{}{}, err
	}, `SELECT made.name, info.name, info.dflt_value FROM sqlite_schema AS made, pragma_table_info(made.name) AS info
WHERE made.type = 'table' AND info.dflt_value IS NOT NULL`)
	return all, err
}

// isDefault reports whether a value is the one that SQL writes as text; empty
// stands for NULL.
func isDefault(v any, text string) bool {
	switch v := v.(type) {
	case nil:
		return text == ""
	case string:
		return text == "'"+v+"'"
	}
	return fmt.Sprint(v) == text
}

func (t table) each(ctx context.Context, from querier, absent map[string]string, each func(Row) error) error {
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
		var held []any
		for i, column := range t.columns {
			if slices.Contains(keys, column) {
				key = append(key, fmt.Sprint(row[i]))
			}
			if !isDefault(row[i], absent[t.name+"."+column]) {
				held = append(held, column, row[i])
			}
		}
		text, err := json.Marshal(held)
		if err != nil {
			return struct{}{}, err
		}
		return struct{}{}, each(Row{Table: t.name, Key: strings.Join(key, " "), Values: text})
	}, `SELECT * FROM `+t.name+` ORDER BY `+t.key)
	return err
}
