// Package backend answers what the pages ask from the store and the journal.
package backend

import (
	"cmp"
	"context"
	"maps"
	"slices"
	"time"

	"recoat/dashboards"
	"recoat/drying/air"
	"recoat/internal/store"
	"recoat/sensors"
)

// points is how many buckets a band has, roughly.
const points = 400

// narrowest is the narrowest bucket.
const narrowest = time.Minute

// Above these spans a band is drawn from the store's rollups: a week of rounds is
// some sixty thousand, of which a screen shows the means.
const (
	longSpan     = 2 * 24 * time.Hour
	longestSpan  = 14 * 24 * time.Hour
	longRollup   = 10 * time.Minute
	longerRollup = time.Hour
)

// History draws bands from the store's rounds and rollups.
type History struct{ readings store.Readings }

// NewHistory returns the history that a store holds.
func NewHistory(r store.Readings) History { return History{readings: r} }

// Band returns the means of the good values in each bucket. Where the air is
// measured at several places, the first by name that has temperature and
// humidity both speaks for a bucket: of two places together there is no dew
// point. Rounds that nobody could date are left out.
//
// A band of more than two days is drawn from rollups. Its outermost buckets are
// whole, and a round that nobody could date counts where the store has it.
func (h History) Band(ctx context.Context, room string, from, to time.Time) ([]dashboards.Point, error) {
	switch span := to.Sub(from); {
	case span > longestSpan:
		return h.fromRollups(ctx, room, from, to, longerRollup)
	case span > longSpan:
		return h.fromRollups(ctx, room, from, to, longRollup)
	}
	return h.fromRounds(ctx, room, from, to)
}

func (h History) fromRounds(ctx context.Context, room string, from, to time.Time) ([]dashboards.Point, error) {
	width := max(narrowest, (to.Sub(from) / points).Round(time.Minute))
	var all []dashboards.Point
	b := &bucket{}
	err := h.readings.Rounds(ctx, store.Query{Room: room, From: from, To: to}, func(r sensors.Round) error {
		if !r.ClockSet && r.Boot != "" {
			return nil
		}
		start := r.Time.Truncate(width)
		if !start.Equal(b.start) {
			all = b.appendTo(all, width)
			b = &bucket{start: start}
		}
		b.add(r)
		return nil
	})
	if err != nil {
		return nil, err
	}
	return b.appendTo(all, width), nil
}

// fromRollups draws a band whose buckets are whole numbers of rollups.
func (h History) fromRollups(ctx context.Context, room string, from, to time.Time, rollup time.Duration) ([]dashboards.Point, error) {
	width := max(rollup, (to.Sub(from) / points).Round(rollup))
	extents, err := h.readings.Extents(ctx)
	if err != nil {
		return nil, err
	}
	buckets := map[time.Time]*bucket{}
	for _, e := range extents {
		if e.Room != room || !shown(e.Channel.Quantity) || e.Last.Before(from) || !e.First.Before(to) {
			continue
		}
		rollups, err := h.readings.Rollups(ctx, e.Series, rollup, from, to)
		if err != nil {
			return nil, err
		}
		for _, r := range rollups {
			start := r.Start.Truncate(width)
			if buckets[start] == nil {
				buckets[start] = &bucket{start: start}
			}
			buckets[start].count(e.Node, e.Channel, r.Sum, r.Good)
		}
	}
	var all []dashboards.Point
	for _, start := range slices.SortedFunc(maps.Keys(buckets), time.Time.Compare) {
		all = buckets[start].appendTo(all, width)
	}
	return all, nil
}

// shown reports whether a band has a quantity in it.
func shown(q sensors.Quantity) bool {
	return q == sensors.AirTemperature || q == sensors.AirHumidity || q == sensors.SurfaceTemperature
}

// place is where something is measured.
type place struct{ node, probe string }

func (p place) compare(o place) int {
	return cmp.Or(cmp.Compare(p.node, o.node), cmp.Compare(p.probe, o.probe))
}

// mean is a mean in the making, at one place.
type mean struct {
	place place
	sum   float64
	n     int64
}

func (m mean) value() float64 { return m.sum / float64(m.n) }

// means are those of one quantity, by place.
type means []mean

// add counts n values of that sum.
func (m *means) add(at place, sum float64, n int64) {
	i, found := slices.BinarySearchFunc(*m, at, func(x mean, at place) int { return x.place.compare(at) })
	if !found {
		*m = slices.Insert(*m, i, mean{place: at})
	}
	(*m)[i].sum += sum
	(*m)[i].n += n
}

// at is the mean at a place, and whether there is one.
func (m means) at(p place) (float64, bool) {
	i, found := slices.BinarySearchFunc(m, p, func(x mean, p place) int { return x.place.compare(p) })
	if !found {
		return 0, false
	}
	return m[i].value(), true
}

// first is the mean at the first place, and whether there is one.
func (m means) first() (float64, bool) {
	if len(m) == 0 {
		return 0, false
	}
	return m[0].value(), true
}

type bucket struct {
	start    time.Time
	air      means
	humidity means
	surfaces map[string]*means
}

func (b *bucket) add(r sensors.Round) {
	for _, x := range r.Readings {
		if x.Quality == sensors.Good {
			b.count(r.Node, x.Channel, x.Value, 1)
		}
	}
}

// count takes in n good values of that sum; none are no values.
func (b *bucket) count(node string, c sensors.Channel, sum float64, n int64) {
	if n == 0 {
		return
	}
	at := place{node, c.Probe}
	switch c.Quantity {
	case sensors.AirTemperature:
		b.air.add(at, sum, n)
	case sensors.AirHumidity:
		b.humidity.add(at, sum, n)
	case sensors.SurfaceTemperature:
		if b.surfaces == nil {
			b.surfaces = map[string]*means{}
		}
		if b.surfaces[c.Probe] == nil {
			b.surfaces[c.Probe] = &means{}
		}
		b.surfaces[c.Probe].add(at, sum, n)
	}
}

// appendTo adds the bucket's point, if anything good was measured in it.
func (b *bucket) appendTo(all []dashboards.Point, width time.Duration) []dashboards.Point {
	if len(b.air) == 0 && len(b.humidity) == 0 && len(b.surfaces) == 0 {
		return all
	}
	p := dashboards.Point{At: b.start.Add(width / 2), Surfaces: map[string]sensors.Celsius{}}
	b.showAir(&p)
	for probe, m := range b.surfaces {
		if v, ok := m.first(); ok {
			p.Surfaces[probe] = sensors.Celsius(v)
		}
	}
	return append(all, p)
}

// showAir shows the air of the first place that has all of it, or what little
// there is without a dew point.
func (b *bucket) showAir(p *dashboards.Point) {
	for _, m := range b.air {
		rh, ok := b.humidity.at(m.place)
		if !ok || rh <= 0 {
			continue
		}
		t := sensors.Celsius(m.value())
		humidity := sensors.RelativeHumidity(rh)
		dew := air.DewPoint(t, humidity)
		p.Air, p.Humidity, p.DewPoint = &t, &humidity, &dew
		return
	}
	if v, ok := b.air.first(); ok {
		t := sensors.Celsius(v)
		p.Air = &t
	}
	if v, ok := b.humidity.first(); ok {
		rh := sensors.RelativeHumidity(v)
		p.Humidity = &rh
	}
}
