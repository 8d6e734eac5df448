package hub

import (
	"context"
	"errors"
	"fmt"
	"time"

	"recoat/internal/alert"
	"recoat/internal/room"
)

// ErrNotStanding says that no such alert stands, so that nothing can be done
// about it.
var ErrNotStanding = errors.New("no such alert stands: it is over, or was acknowledged already")

// sighting asks for an episode to be acknowledged, for a while where snooze is
// above zero.
type sighting struct {
	episode string
	snooze  time.Duration
	answer  chan error
}

// Acknowledge notes that a person has seen an alert. It is false where no such
// alert stands.
func (h *Hub) Acknowledge(episode string) bool {
	return h.ask(sighting{episode: episode, answer: make(chan error, 1)}) == nil
}

// Snooze acknowledges an alert for a while, after which it is told again if it
// is still so: above zero, up to alert.MaxSnooze. Its error is ErrNotStanding
// where no such alert stands.
func (h *Hub) Snooze(episode string, d time.Duration) error {
	if d <= 0 || d > alert.MaxSnooze {
		return fmt.Errorf("snooze for %s: above 0 and up to %s", d, alert.MaxSnooze)
	}
	return h.ask(sighting{episode, d, make(chan error, 1)})
}

func (h *Hub) ask(s sighting) error {
	select {
	case h.seen <- s:
		return <-s.answer
	case <-h.stopped:
		return errStopped
	}
}

func (h *Hub) see(ctx context.Context, s sighting) error {
	now := h.opt.Now()
	var event room.Event = room.Seen{At: now, Episode: s.episode}
	if s.snooze > 0 {
		event = room.Snoozed{At: now, Episode: s.episode, Until: now.Wall.Add(s.snooze)}
	}
	for name, r := range h.rooms {
		if effects := r.Step(event); len(effects) > 0 {
			h.carryOut(ctx, name, effects)
			return nil
		}
	}
	return h.seeHouse(ctx, s, now)
}
