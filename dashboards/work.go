package dashboards

import (
	"context"
	"slices"
	"time"

	"recoat/drying"
	"recoat/internal/room"
	"recoat/internal/shop"
	"recoat/internal/shop/compat"
	"recoat/internal/shop/schedule"
)

// work is a piece with what was done on it and what is next.
type work struct {
	piece shop.Piece
	parts []schedule.Part // in the order of the piece's
	coats []shop.Coat     // that hold, the oldest first
	next  []schedule.Next
}

// workOn reads a piece and what the rooms say of its coats.
func (s *server) workOn(ctx context.Context, id string, now time.Time) (w work, err error) {
	if w.piece, err = s.book.Pieces.Piece(ctx, id); err != nil {
		return w, err
	}
	if w.parts, err = s.book.Steps.Schedules(ctx, id); err != nil {
		return w, err
	}
	if w.coats, err = s.book.Coats.Coats(ctx, shop.CoatFilter{Piece: id}); err != nil {
		return w, err
	}
	w.next = schedule.NextSteps(w.parts, looker(s.house.Snapshots()), now)
	return w, nil
}

// looker looks up what the rooms say of a coat.
func looker(snapshots []room.Snapshot) schedule.Look {
	return func(id string) (schedule.Coat, bool) {
		c, ok := coatNow(snapshots, id)
		return schedule.Coat{Applied: c.Applied, Estimates: c.Estimates, RecoatBy: c.RecoatBy}, ok
	}
}

func coatNow(snapshots []room.Snapshot, id string) (room.CoatNow, bool) {
	for _, s := range snapshots {
		if i := slices.IndexFunc(s.Coats, func(c room.CoatNow) bool { return c.ID == id }); i >= 0 {
			return s.Coats[i], true
		}
	}
	return room.CoatNow{}, false
}

// nextOn is what is next on a part; false: nothing, or it has no schedule.
func (w work) nextOn(part string) (schedule.Next, bool) {
	i := slices.IndexFunc(w.next, func(n schedule.Next) bool { return n.Part == part })
	if i < 0 {
		return schedule.Next{}, false
	}
	return w.next[i], true
}

// lastOn is the newest coat on a part; false: none.
func (w work) lastOn(part string) (shop.Coat, bool) {
	for _, c := range slices.Backward(w.coats) {
		if c.Part.ID == part {
			return c, true
		}
	}
	return shop.Coat{}, false
}

// likelyCoat is the coat that a part most likely gets next, from what its step
// names, or from the newest coat of the same kind of step, on this part rather
// than on another. Its film and method are those of that coat. The product is
// empty where nothing tells it.
func (w work) likelyCoat(part string) (product string, as shop.Coat) {
	next, scheduled := w.nextOn(part)
	for _, onlyHere := range []bool{true, false} {
		for _, c := range slices.Backward(w.coats) {
			if onlyHere && c.Part.ID != part {
				continue
			}
			switch {
			case scheduled && next.Step.Product != "" && c.Product.ID != next.Step.Product:
			case scheduled && next.Step.Product == "" && w.kindOf(c) != next.Step.Kind:
			default:
				return c.Product.ID, c
			}
		}
	}
	return next.Step.Product, shop.Coat{}
}

// kindOf is the kind of step that a coat was.
func (w work) kindOf(c shop.Coat) schedule.Kind {
	for _, p := range w.parts {
		for _, step := range p.Steps {
			if p.ID == c.Part.ID && step.ID == c.Step {
				return step.Kind
			}
		}
	}
	return ""
}

// advice is what is known of a product over what lies on a part, seen from an
// instant. Nothing is known to lie on a part without a coat.
func (w work) advice(table compat.Table, part string, above drying.Product, at time.Time) []compat.Advice {
	last, ok := w.lastOn(part)
	if !ok {
		return nil
	}
	var all []compat.Advice
	for _, a := range table.Check(compat.Meeting{Below: compat.LayerOf(last.Product.Label), Above: compat.LayerOf(above), Since: at.Sub(last.Applied)}) {
		if a.Warns() {
			all = append(all, a)
		}
	}
	return all
}
