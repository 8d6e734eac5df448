package hub

import (
	"context"
	"slices"
	"time"

	"recoat/internal/alert"
)

// Watch is what the hub watches beside the rooms. What is left out is not
// asked about.
type Watch struct {
	// Disk is how many bytes the disk of the files has free, and in all.
	Disk func() (free, size uint64, err error)
	// SelfTest is when a test message of every week is due; AllWell when the
	// message of every day.
	SelfTest *Weekly
	AllWell  *Daily
}

// Weekly is a time of every week by the shop's clock, At from midnight.
type Weekly struct {
	Day time.Weekday
	At  time.Duration
}

// Daily is a time of every day by the shop's clock, At from midnight.
type Daily struct{ At time.Duration }

// houseRoom stands in keys for no room: what is found there is of the hub
// itself.
const houseRoom = ""

// house is the hub's own alerts.
type house struct {
	engine   *alert.Engine
	began    time.Time // what was due before that is not made up for
	channels []string
}

// openHouse takes up what stood of the hub's own alerts.
func (h *Hub) openHouse(ctx context.Context) error {
	episodes, err := h.opt.Decisions.Episodes(ctx, 0)
	if err != nil {
		return err
	}
	episodes = slices.DeleteFunc(episodes, func(e alert.Episode) bool { return e.Key.Room != houseRoom })
	h.house = &house{
		began:    h.opt.Now().Wall,
		engine:   alert.NewEngine(alert.EngineConfig{NewID: h.opt.NewID, Resume: episodes}),
		channels: slices.Concat(h.opt.Channels, h.opt.Second),
	}
	return nil
}

// watchHouse asks the rules about the hub itself.
func (h *Hub) watchHouse(ctx context.Context) {
	now := h.opt.Now()
	h.decide(ctx, h.house.engine.Step(now, h.houseFindings(ctx, now.Wall.In(h.opt.Location))))
}

func (h *Hub) houseFindings(ctx context.Context, now time.Time) []alert.Finding {
	since, why := h.writer.trouble()
	all := []alert.Finding{alert.StoreFailing(alert.StoreFacts{
		Failing: !since.IsZero(), Since: since.In(h.opt.Location), Now: now, Why: why,
	})}
	if h.opt.Watch.Disk != nil {
		facts := alert.DiskFacts{}
		if free, size, err := h.opt.Watch.Disk(); err == nil {
			facts.Free, facts.Size = free, size
		}
		all = append(all, alert.DiskNearlyFull(facts))
	}
	return append(append(all, h.channelFindings(ctx, now)...), h.timed(now)...)
}

// channelFindings ask about each channel. Where the outbox cannot be read,
// nothing is known of them.
func (h *Hub) channelFindings(ctx context.Context, now time.Time) []alert.Finding {
	troubles, err := h.opt.Decisions.Troubles(ctx)
	if err != nil {
		return nil
	}
	var all []alert.Finding
	for _, name := range h.house.channels {
		facts := alert.ChannelFacts{Channel: name, Now: now}
		for _, t := range troubles {
			if t.Channel == name {
				facts.Failing, facts.Since, facts.Why = true, t.Since.In(h.opt.Location), t.Why
			}
		}
		all = append(all, alert.ChannelFailing(facts))
	}
	return all
}

// timed are the messages by which a silent hub is noticed.
func (h *Hub) timed(now time.Time) []alert.Finding {
	var all []alert.Finding
	sum := h.tally()
	if w := h.opt.Watch.SelfTest; w != nil {
		if due := alert.LastWeekly(now, w.Day, w.At, h.opt.Location); !due.Before(h.house.began) {
			all = append(all, alert.SelfTest(alert.SelfTestFacts{
				Due: due, Now: now, Heard: sum.Heard, Nodes: sum.Nodes, Drying: sum.Coats,
			}))
		}
	}
	if d := h.opt.Watch.AllWell; d != nil {
		if due := alert.LastDaily(now, d.At, h.opt.Location); !due.Before(h.house.began) {
			all = append(all, alert.AllWell(alert.AllWellFacts{
				Due: due, Now: now, Heard: sum.Heard, Nodes: sum.Nodes, Drying: sum.Coats, Standing: sum.Warnings,
			}))
		}
	}
	return all
}

func (h *Hub) seeHouse(ctx context.Context, s sighting, now alert.Instant) error {
	if s.snooze > 0 {
		t, err := h.house.engine.Snooze(s.episode, now.Wall.Add(s.snooze), now)
		if err != nil {
			return ErrNotStanding
		}
		h.decide(ctx, []alert.Transition{t})
		return nil
	}
	t, ok := h.house.engine.Acknowledge(s.episode, now)
	if !ok {
		return ErrNotStanding
	}
	h.decide(ctx, []alert.Transition{t})
	return nil
}
