package dashboards

import (
	"context"
	"slices"
	"time"

	"recoat/internal/room"
	"recoat/internal/shop"
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
	_, c, ok := coatIn(snapshots, id)
	return c, ok
}

// coatIn finds a coat that is drying, and its room.
func coatIn(snapshots []room.Snapshot, id string) (room.Snapshot, room.CoatNow, bool) {
	for _, s := range snapshots {
		if i := slices.IndexFunc(s.Coats, func(c room.CoatNow) bool { return c.ID == id }); i >= 0 {
			return s, s.Coats[i], true
		}
	}
	return room.Snapshot{}, room.CoatNow{}, false
}

// dues are the next steps of the piece.
func (w work) dues() []due {
	names := map[string]string{}
	for _, p := range w.parts {
		names[p.ID] = p.Name
	}
	var all []due
	for _, n := range w.next {
		all = append(all, due{n, w.piece.Name, names})
	}
	return all
}

// nextOn is what is next on a part; false: nothing, or it has no schedule.
func (w work) nextOn(part string) (schedule.Next, bool) {
	i := slices.IndexFunc(w.next, func(n schedule.Next) bool { return n.Part == part })
	if i < 0 {
		return schedule.Next{}, false
	}
	return w.next[i], true
}

// likelyProduct is what a part most likely gets next: what its step names, or
// what the newest coat of the same kind of step was, on this part rather than on
// another. It is empty where nothing tells it.
func (w work) likelyProduct(part string) string {
	next, scheduled := w.nextOn(part)
	if next.Step.Product != "" {
		return next.Step.Product
	}
	for _, onlyHere := range []bool{true, false} {
		for _, c := range slices.Backward(w.coats) {
			if onlyHere && c.Part.ID != part || scheduled && w.kindOf(c) != next.Step.Kind {
				continue
			}
			return c.Product.ID
		}
	}
	return ""
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
