package dashboards

import (
	"fmt"
	"strings"
	"time"

	"recoat/drying"
	"recoat/internal/room"
)

// stripView is the strip of time of one room: a scale, a bar for each coat, and
// the band of the dew margin under them.
type stripView struct {
	From, To int64  // of the scale, s since 1970
	Now      string // place of now
	Clock    string
	NowAt    string // which end of the clock stands at Now
	Ticks    []tick
	Bars     []bar
	Gates    []gateView
	Band     *bandView
}

// bar is one coat on its way to its next stage.
type bar struct {
	ID      string
	Name    string // piece, part and step
	Product string
	From    string // where the bar begins
	Solid   string // how long it is certain
	HatchAt string
	Hatch   string // how long it is uncertain, empty if it is not
	Tick    string // place of the likeliest end, empty if there is none in sight
	Anchor  string
	Label   string
	Beyond  bool // it ends right of the strip
	Still   bool // the film stands still: no end can be given
	Detail  string
	Asked   string   // "Why 03:25?", empty where there is no time
	Why     []string // where the time comes from
}

func (w words) strip(s room.Snapshot, all []due, now time.Time) stripView {
	a := tonightAxis(now, w.location)
	a.form = w.form("15:04")
	v := stripView{
		From: a.from.Unix(), To: a.to.Unix(),
		Now:   pct(a.at(now)),
		Clock: now.In(w.location).Format(w.form("15:04")),
		NowAt: edge(a.at(now)),
		Ticks: a.ticks(now),
		Band:  w.band(a, s),
	}
	for _, c := range s.Coats {
		b := w.bar(a, c)
		if e, ok := awaited(c); ok {
			b.Asked, b.Why = "Why no time?", w.why(s, c, e, now)
			if !e.Likely.IsZero() {
				b.Asked = "Why " + w.likely(e, now) + "?"
			}
		}
		v.Bars = append(v.Bars, b)
	}
	v.Gates = w.gates(a, all, now)
	return v
}

// coatName is the coat as the finisher would call it.
func coatName(c room.CoatNow) string {
	name := c.Piece
	if c.Part != "" {
		name = strings.TrimPrefix(name+", "+c.Part, ", ")
	}
	if c.Step != "" {
		name += " (" + c.Step + ")"
	}
	return name
}

// awaited is the estimate of the stage the finisher waits for.
func awaited(c room.CoatNow) (drying.Estimate, bool) {
	if c.Next < 0 || c.Next >= len(c.Estimates) {
		return drying.Estimate{}, false
	}
	return c.Estimates[c.Next], true
}

func (w words) bar(a axis, c room.CoatNow) bar {
	b := bar{ID: c.ID, Name: coatName(c), Product: c.Product, From: pct(a.at(c.Applied))}
	e, ok := awaited(c)
	switch {
	case !ok:
		b.Solid = length(a, c.Applied, a.now)
		b.Detail = "Nothing left to wait for."
	case e.Likely.IsZero():
		b.Still = true
		b.Solid = length(a, c.Applied, a.to)
		b.Detail = "Stands still: not yet " + stageWords[e.Stage].state + "."
	default:
		w.draw(&b, a, c, e)
	}
	return b
}

// draw lays a bar from the coat to its stage: solid until the earliest likely
// end, hatched until the latest, a tick at the likeliest.
func (w words) draw(b *bar, a axis, c room.CoatNow, e drying.Estimate) {
	word := stageWords[e.Stage]
	b.Detail = w.detail(e, a.now)
	if e.Reached {
		b.Solid = length(a, c.Applied, e.Likely)
	} else {
		b.Solid = length(a, c.Applied, e.Low)
		b.HatchAt, b.Hatch = pct(a.at(e.Low)), length(a, e.Low, e.High)
	}
	place := a.at(e.Likely)
	b.Anchor = anchor(place)
	b.Label = word.short + " " + w.likely(e, a.now)
	if a.holds(e.Likely) {
		b.Tick = pct(place)
		return
	}
	b.Beyond = e.Likely.After(a.to)
}

// detail says in words what the bar draws.
func (w words) detail(e drying.Estimate, now time.Time) string {
	state := stageWords[e.Stage].state
	if e.Reached {
		return fmt.Sprintf("%s since %s by the model; touch decides.", capital(state), w.likely(e, now))
	}
	return fmt.Sprintf("%s likely at %s, %s.", capital(state), w.likely(e, now), w.between(e, now))
}

// pace says how fast the label's clock runs.
func pace(p float64) string {
	switch {
	case p <= 0:
		return "The film stands still."
	case p > 0.95 && p < 1.05:
		return "It dries as fast as its label says."
	case p < 1:
		return fmt.Sprintf("Pace %s: slower than its label says.", number(p, 2))
	default:
		return fmt.Sprintf("Pace %s: faster than its label says.", number(p, 2))
	}
}

func capital(text string) string { return strings.TrimSuffix(sentence(text), ".") }

// length is the distance of two instants along the axis.
func length(a axis, from, to time.Time) string { return pct(max(0, a.at(to)-a.at(from))) }
