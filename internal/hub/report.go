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
	drop     func()             // gives the delivery's slot back where it is not taken
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

// atOnce is how many arrivals are taken in before anything else has its turn.
const atOnce = 256

// behind returns an arrival with what waits behind it.
func (h *Hub) behind(first arrival) []arrival {
	all := []arrival{first}
	for len(all) < atOnce {
		select {
		case a := <-h.arrivals:
			all = append(all, a)
		default:
			return all
		}
	}
	return all
}

// arrivedAll takes arrivals in their order. A room is reckoned at the last of its
// rounds: what each of a crowd would change alone, nobody could see.
func (h *Hub) arrivedAll(ctx context.Context, all []arrival) {
	last := map[string]int{}
	for i, a := range all {
		last[a.delivery.Room] = i
	}
	for i, a := range all {
		if len(a.delivery.Rounds) == 0 {
			h.reported(ctx, a.report)
			continue
		}
		h.deliver(ctx, a, i < last[a.delivery.Room])
	}
}
