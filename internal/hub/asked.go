package hub

import (
	"context"
	"slices"

	"recoat/internal/alert"
	"recoat/internal/room"
	"recoat/internal/shop"
)

// tally counts what every room holds.
func (h *Hub) tally() room.Tally {
	var sum room.Tally
	for _, r := range h.rooms {
		t := r.Tally()
		sum.Nodes, sum.Heard, sum.Coats, sum.Warnings = sum.Nodes+t.Nodes, sum.Heard+t.Heard, sum.Coats+t.Coats, sum.Warnings+t.Warnings
	}
	for _, e := range h.house.engine.Episodes() {
		if e.Stands() && e.Severity >= alert.Warning {
			sum.Warnings++
		}
	}
	return sum
}

// wishes brings each room what somebody asked to be told of it.
func (h *Hub) wishes(ctx context.Context) {
	all, err := h.opt.Decisions.Wishes(ctx)
	if err != nil {
		if ctx.Err() == nil {
			h.opt.Log.Error("read what was asked for", "error", err)
		}
		return
	}
	for name, r := range h.rooms {
		own := slices.DeleteFunc(slices.Clone(all), func(w alert.Wish) bool { return w.Room != name })
		if !slices.Equal(own, r.wishes) {
			r.wishes = own
			h.step(ctx, name, room.Wished{Wishes: own})
		}
	}
}

// bringBare tells each room which parts in it wait for their first coat.
func (h *Hub) bringBare(ctx context.Context) error {
	if h.opt.Workpieces == nil {
		return nil
	}
	pieces, err := h.opt.Workpieces.Pieces(ctx)
	if err != nil {
		return err
	}
	bare := map[string][]room.Bare{}
	for _, p := range pieces {
		if !p.Delivered.IsZero() || !p.Archived.IsZero() {
			continue
		}
		for _, part := range p.Parts {
			if part.Room == "" || part.Probe == "" {
				continue
			}
			coats, err := h.opt.Workpieces.Coats(ctx, shop.CoatFilter{Part: part.ID})
			if err != nil {
				return err
			}
			if len(coats) == 0 {
				bare[part.Room] = append(bare[part.Room], room.Bare{ID: part.ID, Piece: p.Name, Part: part.Name, Probe: part.Probe})
			}
		}
	}
	for name := range h.rooms {
		h.step(ctx, name, room.BareChanged{Parts: bare[name]})
	}
	return nil
}
