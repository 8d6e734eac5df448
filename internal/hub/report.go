package hub

import (
	"context"
	"time"

	"recoat/internal/room"
)

// report is the broker's word on a node's connection.
type report struct {
	room, node string
	online     bool
}

// Report hands over that a node's connection came or went. It never blocks: what
// finds no room is forgotten, and the node's silence speaks for itself. When the
// node says that was, by its own clock, is not asked.
func (h *Hub) Report(room, node string, online bool, _ time.Time) {
	select {
	case h.reports <- report{room, node, online}:
	default:
	}
}

func (h *Hub) reported(ctx context.Context, s report) {
	if h.rooms[s.room] != nil {
		h.step(ctx, s.room, room.Reported{At: h.opt.Now(), Node: s.node, Online: s.online})
	}
}
