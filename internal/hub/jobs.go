package hub

import (
	"time"

	"recoat/internal/room"
	"recoat/internal/shop"
)

// followed reports whether a coat is not so old that it is cured, whatever the
// room was like.
func followed(c shop.Coat, now time.Time) bool { return now.Sub(c.Applied) <= longestFollowed }

// jobs turns the journal's coats into what a room follows.
func (h *Hub) jobs(coats []shop.Coat, now time.Time) []room.Job {
	all := make([]room.Job, 0, len(coats))
	for _, c := range coats {
		if !followed(c, now) {
			continue
		}
		learnt, lesson := h.lessons.of(c)
		refuted := h.lessons.refuted[c.ID]
		all = append(all, room.Job{
			ID: c.ID, Piece: c.Piece, Part: c.Part.Name, Step: c.StepName,
			Product: c.Product.Label, Applied: c.Applied, Film: c.Film,
			Probe: c.Part.Probe, ThicknessMM: c.Part.ThicknessMM, Cautions: shop.Cautions(c.Product.Label),
			Learnt: learnt, Lesson: lesson, Refuted: refuted,
		})
	}
	return all
}
