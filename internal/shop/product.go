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
)

// Product is one version of a product in the journal. A coat keeps the version
// it was put on with.
type Product struct {
	ID      string         `json:"id"`
	Version int64          `json:"version"` // 1, 2, 3 …
	Added   time.Time      `json:"added"`
	Label   drying.Product `json:"-"`
}

// PutProduct completes a product and keeps it. A product is known by its name:
// one that is new is added, one whose label differs from its newest version
// gets another version, and one that is as it was changes nothing.
func (j *Journal) PutProduct(ctx context.Context, label drying.Product, at time.Time) (Product, error) {
	var err error
	if label.Name, err = cleanName("the product's name", label.Name); err != nil {
		return Product{}, err
	}
	if label, err = label.Complete(); err != nil {
		return Product{}, &InputError{"the product " + label.Name, "cannot be kept: " + err.Error()}
	}
	row := productRow{version: 1, name: label.Name, added: at.UnixMilli()}
	row.label, row.assumed = preserve(label)
	if _, err := restore(row.label, row.assumed); err != nil {
		return Product{}, &InputError{"the product " + label.Name, "cannot be kept: " + err.Error()}
	}
	err = j.change(ctx, "put the product", at, func(tx *sql.Tx) (step, error) { return row.put(ctx, tx) })
	if err != nil {
		return Product{}, err
	}
	return row.product()
}

// Products returns the newest version of every product, by name.
func (j *Journal) Products(ctx context.Context) ([]Product, error) {
	return query(ctx, j.db.Read, "read the products", readProduct, `SELECT `+productColumns+` FROM product WHERE version = (SELECT max(version) FROM product AS p WHERE p.id = product.id) ORDER BY name`)
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
	var row productRow
	if err := scan(row.fields()...); err != nil {
		return Product{}, err
	}
	return row.product()
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
}

const productColumns = `product.id, product.version, product.name, product.label, product.assumed, product.added`

func (r *productRow) fields() []any {
	return []any{&r.number, &r.version, &r.name, &r.label, &r.assumed, &r.added}
}

func (r *productRow) product() (Product, error) {
	label, err := restore(r.label, r.assumed)
	if err != nil {
		return Product{}, fmt.Errorf("product %s, version %d: %w", productIDs.of(r.number), r.version, err)
	}
	return Product{ID: productIDs.of(r.number), Version: r.version, Added: fromMillis(r.added), Label: label}, nil
}

// put adds the row as the next version of its product, or becomes the newest
// one that is there where they say the same.
func (r *productRow) put(ctx context.Context, tx *sql.Tx) (step, error) {
	var old productRow
	err := tx.QueryRowContext(ctx, `SELECT `+productColumns+` FROM product WHERE name = ? ORDER BY version DESC LIMIT 1`, r.name).Scan(old.fields()...)
	var before any
	switch {
	case errors.Is(err, sql.ErrNoRows):
		err = tx.QueryRowContext(ctx, `SELECT coalesce(max(id), 0) + 1 FROM product`).Scan(&r.number)
	case err == nil && old.label == r.label && old.assumed == r.assumed:
		*r = old
		return step{}, errNothingToDo
	case err == nil:
		r.number, r.version = old.number, old.version+1
		before = old.record()
	}
	if err != nil {
		return step{}, err
	}
	_, err = tx.ExecContext(ctx, `INSERT INTO product(id, version, name, label, assumed, added) VALUES (?, ?, ?, ?, ?, ?)`,
		r.number, r.version, r.name, r.label, r.assumed, r.added)
	return step{productIDs.of(r.number), before, r.record()}, err
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
