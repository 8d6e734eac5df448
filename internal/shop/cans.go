package shop

import (
	"context"
	"database/sql"
	"fmt"
	"time"
)

// AddCan puts a can on the shelf; its id is the journal's to give.
func (j *Journal) AddCan(ctx context.Context, c Can, at time.Time) (Can, error) {
	if err := c.clean(at); err != nil {
		return Can{}, err
	}
	id, err := j.change(ctx, "add the can", at, func(tx *sql.Tx) (step, error) {
		product, _, err := newestVersion(ctx, tx, c.Product)
		if err != nil {
			return step{}, err
		}
		result, err := tx.ExecContext(ctx, `INSERT INTO can(product, batch, amount_ml, best_by, keeps_days, opened, added) VALUES (?, ?, ?, ?, ?, ?, ?)`,
			product, c.Batch, c.LeftML, orNull(c.BestBy), c.KeepsDays, orNull(c.Opened), at.UnixMilli())
		if err != nil {
			return step{}, err
		}
		n, err := result.LastInsertId()
		if err != nil {
			return step{}, err
		}
		c, err = canOf(ctx, tx, canIDs.of(n))
		return step{c.ID, nil, c}, err
	})
	if err != nil {
		return Can{}, err
	}
	return j.Can(ctx, id)
}

// OpenCan says that a can was opened at an instant.
func (j *Journal) OpenCan(ctx context.Context, id string, opened, at time.Time) error {
	if err := checkTime("the day it was opened", opened, at); err != nil {
		return err
	}
	return j.changeCan(ctx, "open the can", id, at, `UPDATE can SET opened = ? WHERE id = ?`, func(before Can) (any, error) {
		if !before.Opened.IsZero() {
			return nil, &InputError{"the can " + id, "was opened already, on " + before.Opened.Format(time.DateOnly)}
		}
		return opened.UnixMilli(), nil
	})
}

// MeasureCan says how much is left in a can, whatever the coats took out of it;
// 0 is empty.
func (j *Journal) MeasureCan(ctx context.Context, id string, leftML float64, at time.Time) error {
	if !(leftML >= 0 && leftML <= LargestCanML) {
		return &InputError{"the amount left", fmt.Sprintf("of %g mL cannot be: 0 to %g mL", leftML, LargestCanML)}
	}
	return j.changeCan(ctx, "measure the can", id, at, `UPDATE can SET amount_ml = ? + `+usedOfCan+` WHERE id = ?`, func(Can) (any, error) { return leftML, nil })
}

// changeCan sets one value of a can by a statement that takes it and the can's
// number.
func (j *Journal) changeCan(ctx context.Context, what, id string, at time.Time, statement string, value func(before Can) (any, error)) error {
	n, err := canIDs.number(id)
	if err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	_, err = j.change(ctx, what, at, func(tx *sql.Tx) (step, error) {
		before, err := canOf(ctx, tx, id)
		if err != nil {
			return step{}, err
		}
		v, err := value(before)
		if err != nil {
			return step{}, err
		}
		if _, err := tx.ExecContext(ctx, statement, v, n); err != nil {
			return step{}, err
		}
		after, err := canOf(ctx, tx, id)
		return step{id, before, after}, err
	})
	return err
}

// Cans returns the cans of a product, or of all where it is empty, in the order
// in which they were added; empty ones too, those in the archive not.
func (j *Journal) Cans(ctx context.Context, product string) ([]Can, error) {
	where, args := `TRUE`, []any{}
	if product != "" {
		n, err := productIDs.number(product)
		if err != nil {
			return nil, fmt.Errorf("read the shelf: %w", err)
		}
		where, args = `can.product = ?`, []any{n}
	}
	return query(ctx, j.db.Read, "read the shelf", readCan, selectCan+where+` AND can.archived IS NULL ORDER BY can.id`, args...)
}

// Can returns one can.
func (j *Journal) Can(ctx context.Context, id string) (Can, error) {
	c, err := canOf(ctx, j.db.Read, id)
	if err != nil {
		return Can{}, fmt.Errorf("read the can: %w", err)
	}
	return c, nil
}

const (
	usedOfCan = `(SELECT coalesce(sum(used_ml), 0) FROM coat WHERE coat.can = can.id AND coat.undone IS NULL)`
	selectCan = `SELECT can.id, can.product, (SELECT name FROM product WHERE product.id = can.product ORDER BY version DESC LIMIT 1),
can.batch, max(0, can.amount_ml - ` + usedOfCan + `), can.best_by, can.keeps_days, can.opened, can.added, can.archived FROM can WHERE `
)

func readCan(scan scanner) (Can, error) {
	var c Can
	var id, product, added int64
	var bestBy, opened, archived sql.NullInt64
	if err := scan(&id, &product, &c.Name, &c.Batch, &c.LeftML, &bestBy, &c.KeepsDays, &opened, &added, &archived); err != nil {
		return Can{}, err
	}
	c.ID, c.Product, c.Added = canIDs.of(id), productIDs.of(product), fromMillis(added)
	c.BestBy, c.Opened, c.Archived = orZero(bestBy), orZero(opened), orZero(archived)
	return c, nil
}

func canOf(ctx context.Context, from querier, id string) (Can, error) {
	n, err := canIDs.number(id)
	if err != nil {
		return Can{}, err
	}
	cans, err := queryRows(ctx, from, readCan, selectCan+`can.id = ?`, n)
	if err == nil && len(cans) == 0 {
		err = canIDs.missing(id)
	}
	if err != nil {
		return Can{}, err
	}
	return cans[0], nil
}

// orNull is an instant as the journal keeps it, NULL for the zero one.
func orNull(t time.Time) sql.NullInt64 {
	return sql.NullInt64{Int64: t.UnixMilli(), Valid: !t.IsZero()}
}
