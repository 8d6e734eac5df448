package shop

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"recoat/drying"
	"recoat/internal/quantity"
)

// Product is one version of a product in the journal. A coat keeps the version
// it was put on with.
type Product struct {
	ID       string         `json:"id"`
	Version  int64          `json:"version"` // 1, 2, 3 …
	Added    time.Time      `json:"added"`
	Archived time.Time      `json:"archived,omitzero"` // zero: it is not
	Label    drying.Product `json:"-"`
}

// PutProduct completes a product and keeps it. A product is known by its name:
// one that is new is added, one whose label differs from its newest version
// gets another version, and one that is as it was changes nothing. One in the
// archive comes out of it.
func (j *Journal) PutProduct(ctx context.Context, label drying.Product, at time.Time) (Product, error) {
	row, err := newProductRow(label, at)
	if err != nil {
		return Product{}, err
	}
	return j.putProduct(ctx, "put the product", row, at, func(ctx context.Context, tx *sql.Tx) (productRow, error) {
		return newestNamed(ctx, tx, row.name)
	})
}

// EditProduct gives a product another label, and with it another name if the
// label has one. A coat keeps the version that it was put on with.
func (j *Journal) EditProduct(ctx context.Context, id string, label drying.Product, at time.Time) (Product, error) {
	row, err := newProductRow(label, at)
	if err != nil {
		return Product{}, err
	}
	n, err := productIDs.number(id)
	if err != nil {
		return Product{}, err
	}
	return j.putProduct(ctx, "edit the product", row, at, func(ctx context.Context, tx *sql.Tx) (productRow, error) {
		named, err := newestNamed(ctx, tx, row.name)
		switch {
		case err == nil && named.number != n:
			return named, &InputError{"the product's name", fmt.Sprintf("%s is that of %s already: choose another", quantity.Quote(row.name), productIDs.of(named.number))}
		case err != nil && !errors.Is(err, sql.ErrNoRows):
			return named, err
		}
		old, err := queryRows(ctx, tx, readProductRow, `SELECT `+productColumns+` FROM product WHERE id = ? ORDER BY version DESC LIMIT 1`, n)
		if err == nil && len(old) == 0 {
			err = productIDs.missing(id)
		}
		if err != nil {
			return productRow{}, err
		}
		return old[0], nil
	})
}

// newProductRow completes a product as the first version of a row.
func newProductRow(label drying.Product, at time.Time) (productRow, error) {
	var err error
	if label.Name, err = cleanName("the product's name", label.Name); err != nil {
		return productRow{}, err
	}
	if label, err = label.Complete(); err != nil {
		return productRow{}, &InputError{"the product " + label.Name, "cannot be kept: " + err.Error()}
	}
	row := productRow{version: 1, name: label.Name, added: at.UnixMilli()}
	row.label, row.assumed = preserve(label)
	if _, err := restore(row.label, row.assumed); err != nil {
		return productRow{}, &InputError{"the product " + label.Name, "cannot be kept: " + err.Error()}
	}
	return row, nil
}

func (j *Journal) putProduct(ctx context.Context, what string, row productRow, at time.Time, find func(context.Context, *sql.Tx) (productRow, error)) (Product, error) {
	id, err := j.change(ctx, what, at, func(tx *sql.Tx) (step, error) {
		old, err := find(ctx, tx)
		if errors.Is(err, sql.ErrNoRows) {
			return row.insert(ctx, tx, nil)
		}
		if err != nil {
			return step{}, err
		}
		return row.insert(ctx, tx, &old)
	})
	if err != nil {
		return Product{}, err
	}
	return j.Product(ctx, id)
}

// Products returns the newest version of every product that is not in the
// archive, by name.
func (j *Journal) Products(ctx context.Context) ([]Product, error) {
	return query(ctx, j.db.Read, "read the products", readProduct, `SELECT `+productColumns+` FROM product WHERE version = (SELECT max(version) FROM product AS p WHERE p.id = product.id) AND archived IS NULL ORDER BY name, id`)
}

// Product returns the newest version of a product.
func (j *Journal) Product(ctx context.Context, id string) (Product, error) {
	p, err := productOf(ctx, j.db.Read, id)
	if err != nil {
		return Product{}, fmt.Errorf("read the product: %w", err)
	}
	return p, nil
}

func productOf(ctx context.Context, from querier, id string) (Product, error) {
	n, err := productIDs.number(id)
	if err != nil {
		return Product{}, err
	}
	products, err := queryRows(ctx, from, readProduct, `SELECT `+productColumns+` FROM product WHERE id = ? ORDER BY version DESC LIMIT 1`, n)
	if err == nil && len(products) == 0 {
		err = productIDs.missing(id)
	}
	if err != nil {
		return Product{}, err
	}
	return products[0], nil
}

func readProduct(scan scanner) (Product, error) {
	row, err := readProductRow(scan)
	if err != nil {
		return Product{}, err
	}
	return row.product()
}

func readProductRow(scan scanner) (productRow, error) {
	var row productRow
	err := scan(row.fields()...)
	return row, err
}

// newestVersion returns the numbers of a product and of its newest version.
func newestVersion(ctx context.Context, tx *sql.Tx, id string) (product, version int64, err error) {
	if product, err = productIDs.number(id); err != nil {
		return 0, 0, err
	}
	err = tx.QueryRowContext(ctx, `SELECT coalesce(max(version), 0) FROM product WHERE id = ?`, product).Scan(&version)
	if err == nil && version == 0 {
		err = productIDs.missing(id)
	}
	return product, version, err
}

// productRow is a row of the table, in the order of productColumns.
type productRow struct {
	number, version      int64
	name, label, assumed string
	added                int64
	archived             sql.NullInt64
}

const productColumns = `product.id, product.version, product.name, product.label, product.assumed, product.added, product.archived`

func (r *productRow) fields() []any {
	return []any{&r.number, &r.version, &r.name, &r.label, &r.assumed, &r.added, &r.archived}
}

func (r *productRow) product() (Product, error) {
	label, err := restore(r.label, r.assumed)
	if err != nil {
		return Product{}, fmt.Errorf("product %s, version %d: %w", productIDs.of(r.number), r.version, err)
	}
	return Product{ID: productIDs.of(r.number), Version: r.version, Added: fromMillis(r.added), Archived: orZero(r.archived), Label: label}, nil
}

// newestNamed returns the newest version of the product that has a name now, or
// sql.ErrNoRows.
func newestNamed(ctx context.Context, tx *sql.Tx, name string) (productRow, error) {
	var r productRow
	err := tx.QueryRowContext(ctx, `SELECT `+productColumns+` FROM product WHERE name = ?
AND version = (SELECT max(version) FROM product AS p WHERE p.id = product.id) ORDER BY id LIMIT 1`, name).Scan(r.fields()...)
	return r, err
}

// insert adds the row as the version after old, or as a new product where old is
// nil. Where both say the same, old only comes out of the archive.
func (r *productRow) insert(ctx context.Context, tx *sql.Tx, old *productRow) (step, error) {
	var before any
	if old == nil {
		if err := tx.QueryRowContext(ctx, `SELECT coalesce(max(id), 0) + 1 FROM product`).Scan(&r.number); err != nil {
			return step{}, err
		}
	} else {
		r.number, r.version, before = old.number, old.version+1, old.record()
	}
	s := step{productIDs.of(r.number), before, r.record()}
	if old != nil && old.label == r.label && old.assumed == r.assumed {
		s.after = before
		if !old.archived.Valid {
			return s, errNothingToDo
		}
	} else if _, err := tx.ExecContext(ctx, `INSERT INTO product(id, version, name, label, assumed, added) VALUES (?, ?, ?, ?, ?, ?)`,
		r.number, r.version, r.name, r.label, r.assumed, r.added); err != nil {
		return step{}, err
	}
	_, err := tx.ExecContext(ctx, `UPDATE product SET archived = NULL WHERE id = ?`, r.number)
	return s, err
}

func (r *productRow) record() any {
	return struct {
		ID      string `json:"id"`
		Version int64  `json:"version"`
		Label   string `json:"label"`
		Assumed string `json:"assumed"`
	}{productIDs.of(r.number), r.version, r.label, r.assumed}
}

// preserve writes a product out whole, with what was assumed, so that later
// defaults do not change what a coat was put on with.
func preserve(p drying.Product) (label, assumed string) {
	return writeLabel(&p, func(string) bool { return true }), strings.Join(p.Assumed, " ")
}

// restore is the inverse of preserve.
func restore(label, assumed string) (drying.Product, error) {
	entries, err := readEntries([]byte(label))
	if err != nil {
		return drying.Product{}, err
	}
	var p drying.Product
	if assumed != "" {
		p.Assumed = strings.Fields(assumed)
	}
	for _, e := range entries {
		if err := e.setIn(&p); err != nil {
			return drying.Product{}, e.at(err)
		}
		if !p.IsAssumed(e.key) {
			p.Given = append(p.Given, e.key)
		}
	}
	slices.Sort(p.Given)
	return p, nil
}
