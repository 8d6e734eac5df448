package sqlite

import (
	"database/sql"
	"errors"
	"fmt"
	"strings"

	"recoat/internal/store"
	"recoat/sensors"
)

// kind says which table gives a name its number.
type kind uint8

const (
	nodes kind = iota
	boots
	layouts
	serieses
)

// name is a row of one of the tables that number things: owner is the id of
// what it belongs to, or a room.
type name struct {
	kind  kind
	owner any
	name  string
}

func nodeNamed(room, node string) name       { return name{nodes, room, node} }
func bootNamed(node int64, boot string) name { return name{boots, node, boot} }
func seriesNamed(node int64, c sensors.Channel) name {
	return name{serieses, node, c.String()}
}

// layoutNamed returns the layout of canonical readings: their channels, in
// order, with a space between. No channel's name holds one.
func layoutNamed(readings []sensors.Reading) name {
	var channels strings.Builder
	for i, x := range readings {
		if i > 0 {
			channels.WriteByte(' ')
		}
		channels.WriteString(x.Channel.String())
	}
	return name{kind: layouts, name: channels.String()}
}

func parseLayout(channels string) ([]sensors.Channel, error) {
	var layout []sensors.Channel
	for _, s := range strings.Fields(channels) {
		c, err := sensors.ParseChannel(s)
		if err != nil {
			return nil, fmt.Errorf("%w: a layout: %w", store.ErrDamaged, err)
		}
		layout = append(layout, c)
	}
	return layout, nil
}

// origin returns the node and the boot id of a round.
func (b *batch) origin(room string, r *sensors.Round) (node, int64, error) {
	if o := b.last; o.known && o.node.room == room && o.node.name == r.Node && o.bootName == r.Boot {
		return o.node, o.boot, nil
	}
	n := node{room: room, name: r.Node}
	var err error
	if n.id, err = b.id(nodeNamed(room, r.Node)); err != nil {
		return n, 0, err
	}
	boot, err := b.id(bootNamed(n.id, r.Boot))
	if err == nil && boot > maxBoot {
		err = fmt.Errorf("the file holds %d boots and can number no more: start a new one", maxBoot)
	}
	b.last = lastOrigin{n, r.Boot, boot, err == nil}
	return n, boot, err
}

// lastOrigin is that of the round before: mostly the next has the same.
type lastOrigin struct {
	node     node
	bootName string
	boot     int64
	known    bool
}

// id returns the number of n, and gives it one if it has none.
func (b *batch) id(n name) (int64, error) {
	if id, ok := b.known[n]; ok {
		return id, nil
	}
	if id, ok := b.ids[n]; ok {
		return id, nil
	}
	find, add := n.kind.statements()
	args := []any{n.name}
	if n.owner != nil {
		args = append(args, n.owner)
	}
	var id int64
	err := b.tx.QueryRowContext(b.ctx, find, args...).Scan(&id)
	if errors.Is(err, sql.ErrNoRows) {
		err = b.tx.QueryRowContext(b.ctx, add, args...).Scan(&id)
	}
	if err != nil {
		return 0, err
	}
	b.ids[n] = id
	return id, nil
}

func (k kind) statements() (find, add string) {
	switch k {
	case nodes:
		return `SELECT id FROM node WHERE name = ? AND room = ?`, `INSERT INTO node(name, room) VALUES (?, ?) RETURNING id`
	case boots:
		return `SELECT id FROM boot WHERE name = ? AND node = ?`, `INSERT INTO boot(name, node) VALUES (?, ?) RETURNING id`
	case layouts:
		return `SELECT id FROM layout WHERE channels = ?`, `INSERT INTO layout(channels) VALUES (?) RETURNING id`
	default:
		return `SELECT id FROM series WHERE channel = ? AND node = ?`, `INSERT INTO series(channel, node) VALUES (?, ?) RETURNING id`
	}
}
