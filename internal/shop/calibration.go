package shop

import (
	"context"
	"database/sql"
	"time"

	"recoat/internal/quantity"
	"recoat/sensors"
	"recoat/sensors/calibration"
)

// Calibration is a check of one channel of a node, as the journal keeps it.
type Calibration struct {
	ID      string `json:"id"`
	Room    string `json:"room"`
	Measure string `json:"channel"` // the channel's name
	calibration.Calibration
	Added  time.Time `json:"added"`
	Undone time.Time `json:"undone,omitzero"` // zero: it holds
}

// AddCalibration records a check of a sensor; the id is the journal's to give.
// The room need not be in the journal: its nodes may have been heard first.
func (j *Journal) AddCalibration(ctx context.Context, c Calibration, at time.Time) (Calibration, error) {
	if err := c.clean(at); err != nil {
		return Calibration{}, err
	}
	subject, err := j.change(ctx, "record the check", at, func(tx *sql.Tx) (step, error) {
		result, err := tx.ExecContext(ctx, `INSERT INTO calibration(room, node, channel, since, gain, "offset", sigma, method, who, due, note, added)
VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
			c.Room, c.Node, c.Measure, c.From.UnixMilli(), c.Gain, c.Offset, c.Sigma, string(c.Method), c.Who, c.Due.UnixMilli(), c.Note, at.UnixMilli())
		if err != nil {
			return step{}, err
		}
		id, err := result.LastInsertId()
		c.ID = calibrationIDs.of(id)
		return step{c.ID, nil, c}, err
	})
	if err != nil {
		return Calibration{}, err
	}
	c.ID = subject
	return c, nil
}

func (c *Calibration) clean(at time.Time) error {
	if err := checkRoomID(c.Room); err != nil {
		return err
	}
	if err := checkTime("the time of the check", c.From, at); err != nil {
		return err
	}
	if err := c.Check(); err != nil {
		return &InputError{"the check", "cannot be taken: " + err.Error()}
	}
	var err error
	if c.Node, err = cleanName("the node's name", c.Node); err != nil {
		return err
	}
	if c.Who, err = cleanName("who made the check", c.Who); err != nil {
		return err
	}
	c.Note, err = cleanText("the note", c.Note, LongestNote)
	c.Measure, c.Added = c.Channel.String(), fromMillis(at.UnixMilli())
	c.From, c.Due = fromMillis(c.From.UnixMilli()), fromMillis(c.Due.UnixMilli())
	return err
}

// UndoCalibration marks a check as not to be used. It stays in the journal.
func (j *Journal) UndoCalibration(ctx context.Context, id string, at time.Time) error {
	n, err := calibrationIDs.number(id)
	if err != nil {
		return err
	}
	_, err = j.change(ctx, "undo the check", at, func(tx *sql.Tx) (step, error) {
		found, err := queryRows(ctx, tx, readCalibration, selectCalibration+` WHERE id = ?`, n)
		switch {
		case err != nil:
			return step{}, err
		case len(found) == 0:
			return step{}, calibrationIDs.missing(id)
		case !found[0].Undone.IsZero():
			return step{}, &InputError{"the check " + id, "was undone already"}
		}
		after := found[0]
		after.Undone = fromMillis(at.UnixMilli())
		_, err = tx.ExecContext(ctx, `UPDATE calibration SET undone = ? WHERE id = ?`, at.UnixMilli(), n)
		return step{id, found[0], after}, err
	})
	return err
}

// Calibrations returns every check, those undone too, in the order in which
// they count.
func (j *Journal) Calibrations(ctx context.Context) ([]Calibration, error) {
	return query(ctx, j.db.Read, "read the checks of the sensors", readCalibration, selectCalibration+` ORDER BY since, id`)
}

// ByRoom returns the checks that hold, by room, as a calibration.Book takes
// them.
func ByRoom(all []Calibration) map[string][]calibration.Calibration {
	rooms := map[string][]calibration.Calibration{}
	for _, c := range all {
		if c.Undone.IsZero() {
			rooms[c.Room] = append(rooms[c.Room], c.Calibration)
		}
	}
	return rooms
}

const selectCalibration = `SELECT id, room, node, channel, since, gain, "offset", sigma, method, who, due, note, added, undone FROM calibration`

func readCalibration(scan scanner) (Calibration, error) {
	var c Calibration
	var id, since, due, added int64
	var undone sql.NullInt64
	if err := scan(&id, &c.Room, &c.Node, &c.Measure, &since, &c.Gain, &c.Offset, &c.Sigma, &c.Method, &c.Who, &due, &c.Note, &added, &undone); err != nil {
		return c, err
	}
	c.ID, c.From, c.Due, c.Added = calibrationIDs.of(id), fromMillis(since), fromMillis(due), fromMillis(added)
	if undone.Valid {
		c.Undone = fromMillis(undone.Int64)
	}
	channel, err := sensors.ParseChannel(c.Measure)
	if err != nil {
		return c, &InputError{"the check " + c.ID, "is of " + quantity.Quote(c.Measure) + ", which is no channel"}
	}
	c.Channel = channel
	return c, nil
}
