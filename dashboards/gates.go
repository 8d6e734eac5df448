package dashboards

import (
	"context"
	"slices"
	"strings"
	"time"

	"recoat/internal/room"
	"recoat/internal/shop"
	"recoat/internal/shop/schedule"
)

// Schedules are the finishing schedules of the pieces in the journal.
type Schedules interface {
	OpenPieces(ctx context.Context, room string) ([]string, error)
	Piece(ctx context.Context, id string) (shop.Piece, error)
	Schedules(ctx context.Context, piece string) ([]schedule.Part, error)
}

// due is what is next on one part of a piece in a room.
type due struct {
	schedule.Next
	piece string
	names map[string]string // of the piece's parts, by id
}

// across reports whether the step waits for another part.
func (d due) across() bool {
	return slices.ContainsFunc(d.Waits, func(w schedule.Waiting) bool { return w.Part != "" && w.Part != d.Part })
}

func (d due) name() string { return d.piece + ", " + d.Name }

// waits says what the step waits for, each as a sentence.
func (d due) waits() []string {
	var out []string
	for _, w := range d.Waits {
		text := sentence(w.Text)
		if w.Part != "" && w.Part != d.Part && d.names[w.Part] != "" && !strings.Contains(w.Text, d.names[w.Part]) {
			text = sentence(d.names[w.Part] + ": " + w.Text)
		}
		out = append(out, text)
	}
	return out
}

// dueIn returns what is next on every part with a schedule in a room; none where
// no schedules are kept.
func (s *server) dueIn(ctx context.Context, snap room.Snapshot, now time.Time) []due {
	if s.schedules == nil {
		return nil
	}
	ids, err := s.schedules.OpenPieces(ctx, snap.Room)
	if err != nil {
		s.log.Error("list the pieces", "err", err)
		return nil
	}
	var all []due
	for _, id := range ids {
		p, err := s.schedules.Piece(ctx, id)
		if err != nil {
			s.log.Error("read a piece", "piece", id, "err", err)
			continue
		}
		parts, err := s.schedules.Schedules(ctx, id)
		if err != nil {
			s.log.Error("read a piece's schedules", "piece", id, "err", err)
			continue
		}
		all = append(all, work{piece: p, parts: parts, next: schedule.NextSteps(parts, lookIn(snap), now)}.dues()...)
	}
	return all
}

// lookIn finds a coat in the room.
func lookIn(s room.Snapshot) schedule.Look {
	return func(coat string) (schedule.Coat, bool) {
		for _, c := range s.Coats {
			if c.ID == coat {
				return schedule.Coat{Applied: c.Applied, Estimates: c.Estimates, RecoatBy: c.RecoatBy}, true
			}
		}
		return schedule.Coat{}, false
	}
}

// gateView is a step that waits for other parts, on the strip of time.
type gateView struct {
	Name, Detail        string
	HatchAt, Hatch      string
	Tick, Anchor, Label string
}

func (w words) gates(a axis, all []due, now time.Time) []gateView {
	var out []gateView
	for _, d := range all {
		if !d.across() || len(d.Waits) == 0 {
			continue
		}
		g := gateView{Name: d.name() + ": " + d.Title, Detail: "Waits for more than one part. " + strings.Join(d.waits(), " ")}
		if d.Known && d.Likely.After(now) {
			place := a.at(d.Likely)
			g.HatchAt, g.Hatch = pct(a.at(d.Low)), length(a, d.Low, d.High)
			g.Anchor, g.Label = anchor(place), "not before "+w.clock(d.Likely.Round(told), now)
			if a.holds(d.Likely) {
				g.Tick = pct(place)
			}
		}
		out = append(out, g)
	}
	return out
}

// dueSteps are the schedules' next steps as lines of what to do next. A step
// that waits for nothing but a coat in the room is told by that coat's own line.
func (w words) dueSteps(all []due, now time.Time) []step {
	var steps []step
	for _, d := range all {
		if _, told := d.byCoat(); told {
			continue
		}
		s := step{at: now, What: d.name() + ": " + d.Title, Why: d.waits()}
		switch {
		case len(d.Waits) == 0 || d.Ready:
			s.Why = append(s.Why, "Nothing that a clock can tell stands against it.")
		case d.Known && d.Likely.After(now):
			s.at = d.Likely.Round(told)
			if coat := waitsFor(d.Next); coat != "" {
				s.From = fromCoat(coat, "next")
			}
		case !d.Known:
			s.later = true
		}
		steps = append(steps, s)
	}
	return steps
}

// byCoat returns the one coat that the step waits for, if that is all.
func (d due) byCoat() (string, bool) {
	if len(d.Waits) != 1 || d.Waits[0].Coat == "" || d.across() {
		return "", false
	}
	return d.Waits[0].Coat, true
}

// after is the step of the schedule that follows a coat, if that waits for
// nothing else.
func after(coat string, all []due) (due, bool) {
	for _, d := range all {
		if c, ok := d.byCoat(); ok && c == coat {
			return d, true
		}
	}
	return due{}, false
}
