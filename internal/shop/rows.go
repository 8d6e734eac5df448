package shop

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
)

// querier is a pool of connections, or a transaction.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// scanner is the Scan of one row.
type scanner func(dest ...any) error

// query reads every row that a SELECT gives.
func query[T any](ctx context.Context, from querier, what string, read func(scanner) (T, error), statement string, args ...any) ([]T, error) {
	all, err := queryRows(ctx, from, read, statement, args...)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", what, err)
	}
	return all, nil
}

func queryRows[T any](ctx context.Context, from querier, read func(scanner) (T, error), statement string, args ...any) (all []T, err error) {
	rows, err := from.QueryContext(ctx, statement, args...)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		one, err := read(rows.Scan)
		if err != nil {
			return nil, err
		}
		all = append(all, one)
	}
	return all, rows.Err()
}

// exists reports whether a SELECT gives any row.
func exists(ctx context.Context, tx *sql.Tx, statement string, args ...any) (bool, error) {
	var found bool
	err := tx.QueryRowContext(ctx, `SELECT EXISTS (`+statement+`)`, args...).Scan(&found)
	return found, err
}
