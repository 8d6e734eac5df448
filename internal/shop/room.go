package shop

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"time"

	"recoat/drying"
	"recoat/internal/quantity"
)

// Room is a space where coats dry.
type Room struct {
	ID     string         // a part of topics, such as "back-room"
	Title  string         // the finisher's name for it
	Limits *drying.Limits // nil: none of its own
}

// longestRoomID is how many characters a room's id may have.
const longestRoomID = 32

func checkRoomID(id string) error {
	for _, r := range id {
		if (r < 'a' || r > 'z') && (r < '0' || r > '9') && r != '-' {
			return &InputError{"the room's id", fmt.Sprintf("%s holds more than small letters, digits and '-': write one such as back-room", quantity.Quote(id))}
		}
	}
	if id == "" || len(id) > longestRoomID || id[0] == '-' {
		return &InputError{"the room's id", fmt.Sprintf("must have 1 to %d characters and start with a letter or digit, such as back-room", longestRoomID)}
	}
	return nil
}

// AddRoom adds a room.
func (j *Journal) AddRoom(ctx context.Context, r Room, at time.Time) error {
	if err := checkRoomID(r.ID); err != nil {
		return err
	}
	title, err := cleanName("the room's name", r.Title)
	if err != nil {
		return err
	}
	if r.Limits != nil {
		if err := r.Limits.Check(); err != nil {
			return &InputError{"the room's limits", "cannot be: " + err.Error()}
		}
	}
	limits := writeLimits(r.Limits)
	_, err = j.change(ctx, "add the room", at, func(tx *sql.Tx) (step, error) {
		taken, err := exists(ctx, tx, `SELECT 1 FROM room WHERE id = ?`, r.ID)
		switch {
		case err != nil:
			return step{}, err
		case taken:
			return step{}, &InputError{"the room's id", fmt.Sprintf("%q is taken: choose another", r.ID)}
		}
		_, err = tx.ExecContext(ctx, `INSERT INTO room(id, title, limits, added) VALUES (?, ?, ?, ?)`, r.ID, title, limits, at.UnixMilli())
		return step{r.ID, nil, map[string]string{"id": r.ID, "title": title, "limits": limits}}, err
	})
	return err
}

// Rooms returns every room, in the order in which they were added.
func (j *Journal) Rooms(ctx context.Context) ([]Room, error) {
	return query(ctx, j.db.Read, "read the rooms", func(scan scanner) (Room, error) {
		var r Room
		var limits string
		if err := scan(&r.ID, &r.Title, &limits); err != nil {
			return Room{}, err
		}
		var err error
		r.Limits, err = readLimits(limits)
		return r, err
	}, `SELECT id, title, limits FROM room ORDER BY added, id`)
}

const limitsTable = "limits."

func writeLimits(limits *drying.Limits) string {
	if limits == nil {
		return ""
	}
	return writeLabel(&drying.Product{Limits: *limits}, func(key string) bool { return strings.HasPrefix(key, limitsTable) })
}

func readLimits(written string) (*drying.Limits, error) {
	if written == "" {
		return nil, nil
	}
	p, err := restore(written, "")
	return &p.Limits, err
}
