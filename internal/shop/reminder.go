package shop

import (
	"context"
	"database/sql"
	"fmt"
	"time"
)

// Reminder asks what became of the oily rags of a coat. It opens with the coat
// and stays until it is ticked.
type Reminder struct {
	Coat    string    `json:"coat"` // id
	PieceID string    `json:"piece"`
	Piece   string    `json:"piece_name"`
	Part    string    `json:"part_name"`
	Product string    `json:"product_name"`
	Opened  time.Time `json:"opened"`
	Text    string    `json:"text"`
}

// OpenReminders returns the reminders that are not ticked, the oldest first.
func (j *Journal) OpenReminders(ctx context.Context) ([]Reminder, error) {
	return query(ctx, j.db.Read, "read the reminders", func(scan scanner) (Reminder, error) {
		r := Reminder{Text: oilyRags}
		var coat, piece, opened int64
		err := scan(&coat, &piece, &r.Piece, &r.Part, &r.Product, &opened)
		r.Coat, r.PieceID, r.Opened = coatIDs.of(coat), pieceIDs.of(piece), fromMillis(opened)
		return r, err
	}, `SELECT coat.id, piece.id, piece.name, part.name, product.name, reminder.opened FROM reminder
JOIN coat ON coat.id = reminder.coat
JOIN piece ON piece.id = coat.piece
JOIN part ON part.piece = coat.piece AND part.number = coat.part
JOIN product ON product.id = coat.product AND product.version = coat.version
WHERE reminder.ticked IS NULL AND coat.undone IS NULL ORDER BY reminder.opened, coat.id`)
}

// TickReminder says that the rags of a coat are dealt with.
func (j *Journal) TickReminder(ctx context.Context, coat string, at time.Time) error {
	n, err := coatIDs.number(coat)
	if err != nil {
		return fmt.Errorf("tick the reminder: %w", err)
	}
	_, err = j.change(ctx, "tick the reminder", at, func(tx *sql.Tx) (step, error) {
		rows, err := queryRows(ctx, tx, func(scan scanner) (ticked sql.NullInt64, err error) { err = scan(&ticked); return ticked, err },
			`SELECT ticked FROM reminder WHERE coat = ?`, n)
		switch {
		case err != nil:
			return step{}, err
		case len(rows) == 0:
			return step{}, fmt.Errorf("the coat %s has no reminder: %w", coat, ErrNotFound)
		case rows[0].Valid:
			return step{coat, nil, nil}, errNothingToDo
		}
		_, err = tx.ExecContext(ctx, `UPDATE reminder SET ticked = ? WHERE coat = ?`, at.UnixMilli(), n)
		return step{coat, map[string]bool{"rags": false}, map[string]bool{"rags": true}}, err
	})
	return err
}
