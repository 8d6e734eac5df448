package shop

import (
	"context"
	"database/sql"
	"strings"
	"unicode/utf8"
)

// PieceFilter picks pieces for a list; what is zero picks all.
type PieceFilter struct {
	// Text is looked for in names, notes, parts, materials, products and the
	// beginnings of batches, whether small letters or capitals.
	Text     string
	Archived bool   // those in the archive, instead of those that are not
	Before   string // only those added before this one: the next page; empty: from the newest
	Limit    int    // at most so many, 1 to MostListed; 0: MostListed
}

// MostListed is how many pieces one list holds.
const MostListed = 200

// ListPieces returns the pieces that a filter picks, the newest first. A list
// as long as the limit may have a next page.
func (j *Journal) ListPieces(ctx context.Context, f PieceFilter) ([]Piece, error) {
	where, args, err := j.listed(ctx, f)
	if err != nil {
		return nil, err
	}
	if f.Limit <= 0 || f.Limit > MostListed {
		f.Limit = MostListed
	}
	all, err := pieces(ctx, j.db.Read, `piece.id IN (SELECT id FROM piece AS found WHERE `+where+` ORDER BY id DESC LIMIT ?)`, append(args, f.Limit)...)
	if err != nil {
		return nil, err
	}
	newestFirst(all)
	return all, nil
}

func newestFirst(all []Piece) {
	for i, k := 0, len(all)-1; i < k; i, k = i+1, k-1 {
		all[i], all[k] = all[k], all[i]
	}
}

// listed is the condition on the table found.
func (j *Journal) listed(ctx context.Context, f PieceFilter) (where string, args []any, err error) {
	where = `found.archived IS NULL`
	if f.Archived {
		where = `found.archived IS NOT NULL`
	}
	if f.Before != "" {
		n, err := pieceIDs.number(f.Before)
		if err != nil {
			return "", nil, err
		}
		where, args = where+` AND found.id < ?`, append(args, n)
	}
	text := strings.ToLower(strings.TrimSpace(f.Text))
	switch {
	case text == "":
		return where, args, nil
	case !utf8.ValidString(text) || utf8.RuneCountInString(text) > LongestName:
		return "", nil, &InputError{"what is looked for", "is too long, or no text"}
	}
	products, err := j.productsNamed(ctx, text)
	if err != nil {
		return "", nil, err
	}
	where += ` AND (instr(found.search, ?) > 0 OR found.id IN (SELECT piece FROM coat WHERE undone IS NULL AND batch <> '' AND batch LIKE ? ESCAPE '\')`
	args = append(args, text, strings.NewReplacer(`\`, `\\`, `%`, `\%`, `_`, `\_`).Replace(text)+"%")
	if len(products) > 0 {
		where += ` OR found.id IN (SELECT piece FROM coat WHERE undone IS NULL AND product IN (?` + strings.Repeat(", ?", len(products)-1) + `))`
		args = append(args, products...)
	}
	return where + `)`, args, nil
}

// productsNamed returns the numbers of the products that ever had a name with
// the text in it.
func (j *Journal) productsNamed(ctx context.Context, text string) ([]any, error) {
	var all []any
	_, err := query(ctx, j.db.Read, "read the products", func(scan scanner) (struct{}, error) {
		var n int64
		var name string
		err := scan(&n, &name)
		if strings.Contains(strings.ToLower(name), text) && len(all) < MostListed {
			all = append(all, n)
		}
		return struct{}{}, err
	}, `SELECT DISTINCT id, name FROM product ORDER BY id`)
	return all, err
}

// indexAll writes what pieces are found by that an earlier version added.
func (j *Journal) indexAll(ctx context.Context) error {
	read := func(scan scanner) (n int64, err error) { err = scan(&n); return n, err }
	missing, err := query(ctx, j.db.Read, "read the pieces", read, `SELECT id FROM piece WHERE search = ''`)
	if err != nil || len(missing) == 0 {
		return err
	}
	return j.db.Tx(ctx, func(tx *sql.Tx) error {
		for _, n := range missing {
			if err := index(ctx, tx, n); err != nil {
				return err
			}
		}
		return nil
	})
}
