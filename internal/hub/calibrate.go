package hub

import (
	"context"

	"recoat/internal/shop"
	"recoat/sensors"
)

// Checks is where the hub reads how its sensors were checked.
type Checks interface {
	Calibrations(ctx context.Context) ([]shop.Calibration, error)
}

// recalibrate reads the checks of the sensors anew. Where any is different,
// history is read again, corrected, and so are the touch tests.
func (h *Hub) recalibrate(ctx context.Context) error {
	if h.opt.Checks == nil {
		return nil
	}
	all, err := h.opt.Checks.Calibrations(ctx)
	if err != nil {
		return err
	}
	if !h.opt.Book.Replace(shop.ByRoom(all)) {
		return nil
	}
	clear(h.lessons.read)
	for id := range h.rooms {
		h.recallAgain(ctx, id)
	}
	return nil
}

// corrected returns a raw round as the room is to see it.
func (h *Hub) corrected(room string, r sensors.Round) sensors.Round {
	return h.opt.Book.Correct(room, r)
}
