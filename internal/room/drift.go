package room

import (
	"math"
	"time"

	"recoat/internal/alert"
	"recoat/sensors"
)

// Two sensors of one quantity are compared over the first day in which the
// history has both, and over the last six hours. What separates them at first,
// by their tolerance and their places, is no drift. How far they may move apart
// is common practice, no source: some twice what a good sensor may drift in a
// year. A history of three weeks shows no slower drift than it holds.
const (
	driftLearns = 24 * time.Hour
	driftLooks  = 6 * time.Hour
	driftCovers = 0.25 // of either span, at least
	driftEvery  = 15 * time.Minute
	driftWarm   = 0.8 // K
	driftHumid  = 3.0 // %
)

// twins is a pair of sensors and how far they have moved apart.
type twins struct {
	first, second rank
	quantity      sensors.Quantity
	moved         float64 // not a number: not known yet
}

// compare looks for drift anew, every quarter of an hour.
func (r *Room) compare() {
	if at := r.now.Wall.Truncate(driftEvery); !at.Equal(r.compared) {
		r.compared = at
		r.pairs = r.history.twins(r.now.Wall)
	}
}

// twins compares the first place that measures a quantity with each other one.
func (h *history) twins(now time.Time) []twins {
	recent := h.since(now.Add(-driftLooks))
	if len(recent) == 0 {
		return nil
	}
	var all []twins
	for _, q := range []sensors.Quantity{sensors.AirTemperature, sensors.AirHumidity} {
		ranks := ranksOf(recent, q)
		for i := 1; i < len(ranks); i++ {
			t := twins{first: ranks[0], second: ranks[i], quantity: q}
			t.moved = h.moved(t, now)
			all = append(all, t)
		}
	}
	return all
}

// ranksOf lists the places that measured a quantity, in order.
func ranksOf(slots []slot, q sensors.Quantity) []rank {
	var all []rank
	for i := range slots {
		for _, a := range slots[i].airs {
			if a.of(q).known() {
				all = insertRank(all, a.from.Value())
			}
		}
	}
	return all
}

func insertRank(all []rank, r rank) []rank {
	for i, o := range all {
		if o == r {
			return all
		}
		if r.before(o) {
			return append(all[:i], append([]rank{r}, all[i:]...)...)
		}
	}
	return append(all, r)
}

func (a *airs) of(q sensors.Quantity) cell {
	if q == sensors.AirTemperature {
		return a.temperature
	}
	return a.humidity
}

// moved is the mean difference of the last hours less that of the first day.
func (h *history) moved(t twins, now time.Time) float64 {
	var began time.Time
	var first, last mean
	for i := range h.slots {
		d, ok := h.slots[i].apart(t)
		if !ok {
			continue
		}
		at := h.slots[i].start
		if began.IsZero() {
			began = at
		}
		switch {
		case at.Before(began.Add(driftLearns)):
			first.add(d)
		case at.After(now.Add(-driftLooks)):
			last.add(d)
		}
	}
	return last.over(driftLooks) - first.over(driftLearns)
}

// apart is how far the second is above the first in one slot.
func (s *slot) apart(t twins) (float64, bool) {
	var first, second cell
	for i := range s.airs {
		switch s.airs[i].from.Value() {
		case t.first:
			first = s.airs[i].of(t.quantity)
		case t.second:
			second = s.airs[i].of(t.quantity)
		}
	}
	return second.value - first.value, first.known() && second.known()
}

// mean is that of values of one minute each.
type mean struct {
	sum float64
	n   int
}

func (m *mean) add(v float64) { m.sum, m.n = m.sum+v, m.n+1 }

// over is not a number where too little of the span was covered.
func (m *mean) over(span time.Duration) float64 {
	if float64(m.n) < driftCovers*span.Minutes() {
		return math.NaN()
	}
	return m.sum / float64(m.n)
}

func (r *Room) drifting() []alert.Finding {
	var all []alert.Finding
	for _, t := range r.pairs {
		c := sensors.Channel{Quantity: t.quantity, Probe: t.second.probe}
		node := r.nodes[t.second.node]
		if node == nil {
			continue
		}
		facts := alert.DriftFacts{OfSensor: r.ofSensor(node, c), Twin: r.place(t.first), Moved: t.moved, Limit: driftHumid, Unit: "%"}
		if t.quantity == sensors.AirTemperature {
			facts.Limit, facts.Unit = driftWarm, "K"
		}
		all = append(all, alert.Drifting(facts))
	}
	return all
}

// place names where a sensor is, for a person.
func (r *Room) place(at rank) string {
	if at.probe == "" {
		return "that of node " + at.node
	}
	return "that of " + r.label(at.probe) + " on node " + at.node
}
