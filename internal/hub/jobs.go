package hub

import (
	"context"
	"slices"
	"time"

	"recoat/internal/room"
	"recoat/internal/shop"
	"recoat/internal/shop/schedule"
)

// followed reports whether a coat is not so old that it is cured, whatever the
// room was like.
func followed(c shop.Coat, now time.Time) bool { return now.Sub(c.Applied) <= longestFollowed }

// jobs turns the journal's coats into what a room follows.
func (h *Hub) jobs(ctx context.Context, coats []shop.Coat, now time.Time) []room.Job {
	all := make([]room.Job, 0, len(coats))
	for _, c := range coats {
		if !followed(c, now) {
			continue
		}
		learnt, lesson := h.lessons.of(c)
		refuted := h.lessons.refuted[c.ID]
		j := jobOf(c)
		j.Learnt, j.Lesson, j.Refuted, j.Due = learnt, lesson, refuted, h.due(ctx, c)
		if err := h.earlier(ctx, c, &j); err != nil && ctx.Err() == nil {
			h.opt.Log.Error("read where a part has been", "coat", c.ID, "error", err) // this room stands for it
		}
		all = append(all, j)
	}
	return all
}

// jobOf is a coat as a room follows it, without what was learnt.
func jobOf(c shop.Coat) room.Job {
	return room.Job{
		ID: c.ID, Piece: c.Piece, Part: c.Part.Name, Step: c.StepName,
		Product: c.Product.Label, Applied: c.Applied, Film: c.Film,
		Probe: c.Part.Probe, ThicknessMM: c.Part.ThicknessMM, Cautions: shop.Cautions(c.Product.Label),
	}
}

// due reports whether the schedule of a coat's part has another coat to come.
// Where the schedule cannot be read, none is known of.
func (h *Hub) due(ctx context.Context, c shop.Coat) bool {
	if h.opt.Workpieces == nil {
		return false
	}
	parts, err := h.opt.Workpieces.Schedules(ctx, c.PieceID)
	if err != nil {
		if ctx.Err() == nil {
			h.opt.Log.Error("read a piece's schedule", "piece", c.PieceID, "error", err)
		}
		return false
	}
	for _, p := range parts {
		if p.ID == c.Part.ID {
			return slices.ContainsFunc(p.Steps[p.At():], func(s schedule.Step) bool { return s.Kind.Coats() })
		}
	}
	return false
}
