package hub

import (
	"time"

	"recoat/internal/room"
	"recoat/internal/shop"
)

// jobs turns the journal's coats into what a room follows. A coat so old that
// it is cured, whatever the room was like, is followed no more.
func jobs(coats []shop.Coat, now time.Time) []room.Job {
	all := make([]room.Job, 0, len(coats))
	for _, c := range coats {
		if now.Sub(c.Applied) > longestFollowed {
			continue
		}
		all = append(all, room.Job{
			ID: c.ID, Piece: c.Piece, Part: c.Part.Name,
			Product: c.Product.Label, Applied: c.Applied, Film: c.Film,
			Probe: c.Part.Probe, Cautions: shop.Cautions(c.Product.Label),
		})
	}
	return all
}
