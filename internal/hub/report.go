package hub

import (
	"context"

	"recoat/internal/room"
	"recoat/internal/telemetry"
)

// arrival is what a node sent, or what the broker says of its connection: one
// queue keeps the order in which they came.
type arrival struct {
	delivery telemetry.Delivery // without rounds: it is a report
	report   telemetry.Report
}

// Report hands over that a node's connection came or went. It never blocks: what
// finds no room is forgotten, and the node's silence speaks for itself.
func (h *Hub) Report(r telemetry.Report) {
	select {
	case h.arrivals <- arrival{report: r}:
	default:
	}
}

func (h *Hub) reported(ctx context.Context, r telemetry.Report) {
	if h.rooms[r.Room] == nil {
		return
	}
	e := room.Reported{At: h.opt.Now(), Node: r.Node, Online: r.Online}
	if r.Online && !r.Kept {
		e.Boot, e.Clock = r.Boot, r.At
	}
	h.step(ctx, r.Room, e)
}

func (h *Hub) arrived(ctx context.Context, a arrival) {
	if len(a.delivery.Rounds) == 0 {
		h.reported(ctx, a.report)
		return
	}
	h.deliver(ctx, a.delivery)
}
