package shop

import (
	"bufio"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
)

// backupFormat tells a backup of the journal from any other JSON.
const backupFormat = "recoat journal"

// backup is a whole journal as JSON. Rows stand in the order of their keys, so
// that one journal gives one text.
type backup struct {
	Format  string        `json:"format"`
	Version int           `json:"version"` // of the schema
	Tables  []backupTable `json:"tables"`
}

type backupTable struct {
	Name    string   `json:"name"`
	Columns []string `json:"columns"`
	Rows    [][]any  `json:"rows"`
}

// Backup writes the whole journal, its record of changes too, as it is at one
// instant. RestoreJournal reads it.
func (j *Journal) Backup(ctx context.Context, w io.Writer) (err error) {
	tx, err := j.db.Read.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return fmt.Errorf("back up the journal: %w", err)
	}
	defer func() { err = errors.Join(err, tx.Rollback()) }()
	var version int
	if err := tx.QueryRowContext(ctx, `PRAGMA user_version`).Scan(&version); err != nil {
		return fmt.Errorf("back up the journal: %w", err)
	}
	tables, err := layout(ctx, tx)
	if err != nil {
		return fmt.Errorf("back up the journal: %w", err)
	}
	out := bufio.NewWriter(w) // it remembers the first error for Flush
	fmt.Fprintf(out, "{\"format\":%q,\"version\":%d,\"tables\":[", backupFormat, version)
	for i, t := range tables {
		if i > 0 {
			fmt.Fprint(out, ",")
		}
		if err := t.write(ctx, tx, out); err != nil {
			return fmt.Errorf("back up the journal: the table %s: %w", t.name, err)
		}
	}
	fmt.Fprintln(out, "]}")
	if err := out.Flush(); err != nil {
		return fmt.Errorf("back up the journal: %w", err)
	}
	return nil
}

// table is one of the journal's, as its file has it.
type table struct {
	name    string
	columns []string
	key     string // its columns, with commas between them
}

// layout returns the tables in the order in which they were made.
func layout(ctx context.Context, from querier) ([]table, error) {
	var all []table
	_, err := queryRows(ctx, from, func(scan scanner) (struct{}, error) {
		var name, column string
		var inKey int
		if err := scan(&name, &column, &inKey); err != nil {
			return struct{}{}, err
		}
		if n := len(all); n == 0 || all[n-1].name != name {
			all = append(all, table{name: name})
		}
		t := &all[len(all)-1]
		t.columns = append(t.columns, column)
		if inKey > 0 && t.key != "" {
			t.key += ", "
		}
		if inKey > 0 { // every key names its columns in the order of the table
			t.key += column
		}
		return struct{}{}, nil
	}, `SELECT made.name, info.name, info.pk FROM sqlite_schema AS made, pragma_table_info(made.name) AS info
WHERE made.type = 'table' AND made.name NOT LIKE 'sqlite\_%' ESCAPE '\' ORDER BY made.rowid, info.cid`)
	return all, err
}

// write writes the table as JSON, a line for each row.
func (t table) write(ctx context.Context, from querier, out *bufio.Writer) error {
	columns, err := json.Marshal(t.columns)
	if err != nil {
		return err
	}
	fmt.Fprintf(out, "\n{\"name\":%q,\"columns\":%s,\"rows\":[", t.name, columns)
	between := "\n"
	_, err = queryRows(ctx, from, func(scan scanner) (struct{}, error) {
		row, into := make([]any, len(t.columns)), make([]any, len(t.columns))
		for i := range row {
			into[i] = &row[i]
		}
		if err := scan(into...); err != nil {
			return struct{}{}, err
		}
		text, err := json.Marshal(row)
		if err != nil {
			return struct{}{}, err
		}
		fmt.Fprintf(out, "%s%s", between, text)
		between = ",\n"
		return struct{}{}, nil
	}, `SELECT * FROM `+t.name+` ORDER BY `+t.key)
	fmt.Fprint(out, "]}")
	return err
}

// Photos returns the names of the photos that the journal speaks of, in their
// order. The photos themselves are files beside it.
func (j *Journal) Photos(ctx context.Context) ([]string, error) {
	return query(ctx, j.db.Read, "read the names of the photos", readText, `SELECT photo FROM piece WHERE photo <> '' UNION SELECT photo FROM defect WHERE photo <> '' ORDER BY 1`)
}
