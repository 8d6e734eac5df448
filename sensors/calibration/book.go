package calibration

import (
	"slices"
	"sort"
	"sync"
	"time"

	"recoat/sensors"
)

// Book holds the calibrations of every room and corrects by them. It may be
// used by several goroutines; a nil *Book corrects nothing.
type Book struct {
	mu  sync.RWMutex
	all map[key][]Calibration // of one channel, oldest first
}

type key struct {
	room, node string
	channel    sensors.Channel
}

// Replace puts the calibrations of every room, by room, in the place of those
// before, and reports whether anything is different.
func (b *Book) Replace(rooms map[string][]Calibration) bool {
	all := map[key][]Calibration{}
	for room, list := range rooms {
		for _, c := range list {
			k := key{room, c.Node, c.Channel}
			all[k] = append(all[k], c)
		}
	}
	for _, list := range all {
		sort.SliceStable(list, func(i, j int) bool { return list[i].From.Before(list[j].From) })
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	same := len(all) == len(b.all)
	for k, list := range all {
		same = same && slices.EqualFunc(list, b.all[k], func(a, b Calibration) bool { return a.equal(b) })
	}
	b.all = all
	return !same
}

func (c Calibration) equal(o Calibration) bool {
	times := c.From.Equal(o.From) && c.Due.Equal(o.Due)
	c.From, c.Due, o.From, o.Due = time.Time{}, time.Time{}, time.Time{}, time.Time{}
	return times && c == o
}

// Of returns the calibration that corrects a channel at an instant, and whether
// there is one.
func (b *Book) Of(room, node string, c sensors.Channel, at time.Time) (Calibration, bool) {
	if b == nil {
		return Calibration{}, false
	}
	b.mu.RLock()
	defer b.mu.RUnlock()
	list := b.all[key{room, node, c}]
	for i := len(list) - 1; i >= 0; i-- {
		if !list[i].From.After(at) {
			return list[i], true
		}
	}
	return Calibration{}, false
}

// Correct returns the round with its values corrected; the argument is left as
// it is. Qualities stay.
func (b *Book) Correct(room string, r sensors.Round) sensors.Round {
	copied := false
	for i, x := range r.Readings {
		c, ok := b.Of(room, r.Node, x.Channel, r.Time)
		if !ok || x.Quality == sensors.Missing {
			continue
		}
		if !copied {
			r.Readings, copied = slices.Clone(r.Readings), true
		}
		r.Readings[i].Value = c.Apply(x.Value)
	}
	return r
}

// Sigma returns the standard uncertainty of a channel's values at an instant,
// or typical where it was never checked. A check past its due date no longer
// vouches for better than typical.
func (b *Book) Sigma(room, node string, c sensors.Channel, at time.Time, typical float64) float64 {
	found, ok := b.Of(room, node, c, at)
	switch {
	case !ok:
		return typical
	case at.After(found.Due):
		return max(found.Sigma, typical)
	}
	return found.Sigma
}

// Overdue reports whether a channel was checked once and its next check is due
// before now.
func (b *Book) Overdue(room, node string, c sensors.Channel, now time.Time) bool {
	found, ok := b.Of(room, node, c, now)
	return ok && found.Due.Before(now)
}
