package hub

import (
	"context"
	"time"

	"recoat/drying"
	"recoat/internal/follow"
	"recoat/internal/room"
	"recoat/internal/shop"
)

// stoodBefore is for how long before its coat a part is looked at: its board is
// as warm as the air was that it stood in.
const stoodBefore = 6 * time.Hour

// earlier brings a job what its part met before it lay as it lies now, where it
// was moved since its coat was put on. What reaches the store of another room
// after that is taken in with the journal's next change.
func (h *Hub) earlier(ctx context.Context, c shop.Coat, j *room.Job) error {
	stays, err := follow.Stays(ctx, h.places(), c)
	if err != nil || len(stays) < 2 {
		return err
	}
	last := stays[len(stays)-1]
	samples, err := elsewhere(ctx, h.opt.Readings, stays)
	if err != nil {
		return err
	}
	j.Earlier, j.Since = samples, last.From
	return nil
}

// elsewhere are the conditions of every stay but the last.
func elsewhere(ctx context.Context, readings follow.Readings, stays []shop.Stay) ([]drying.Sample, error) {
	last := len(stays) - 1
	before := append([]shop.Stay(nil), stays[:last]...)
	before[0].From = before[0].From.Add(-stoodBefore)
	return follow.Samples(ctx, readings, before, stays[last].From)
}

func (h *Hub) places() follow.Places {
	if h.opt.Workpieces == nil {
		return nil
	}
	return h.opt.Workpieces
}
