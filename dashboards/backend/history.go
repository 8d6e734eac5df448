// Package backend answers what the pages ask from the store and the journal.
package backend

import (
	"context"
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

// History draws bands from the store's rounds.
type History struct{ readings store.Readings }

// NewHistory returns the history that a store holds.
func NewHistory(r store.Readings) History { return History{readings: r} }

// Band returns the means of the good values in each bucket. Where several
// nodes measure the air, the first by name that has it speaks for a bucket.
func (h History) Band(ctx context.Context, room string, from, to time.Time) ([]dashboards.Point, error) {
	width := max(narrowest, (to.Sub(from) / points).Round(time.Minute))
	var all []dashboards.Point
	b := &bucket{}
	err := h.readings.Rounds(ctx, store.Query{Room: room, From: from, To: to}, func(r sensors.Round) error {
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

// mean is a mean in the making, of the channel of lowest rank that came.
type mean struct {
	rank string
	sum  float64
	n    float64
}

func (m *mean) add(rank string, v float64) {
	switch {
	case m.n == 0 || rank < m.rank:
		*m = mean{rank: rank, sum: v, n: 1}
	case rank == m.rank:
		m.sum, m.n = m.sum+v, m.n+1
	}
}

func (m mean) value() float64 { return m.sum / m.n }

type bucket struct {
	start    time.Time
	air      mean
	humidity mean
	surfaces map[string]*mean
}

func (b *bucket) add(r sensors.Round) {
	for _, x := range r.Readings {
		if x.Quality != sensors.Good {
			continue
		}
		rank := r.Node + "/" + x.Channel.Probe
		switch x.Channel.Quantity {
		case sensors.AirTemperature:
			b.air.add(rank, x.Value)
		case sensors.AirHumidity:
			b.humidity.add(rank, x.Value)
		case sensors.SurfaceTemperature:
			if b.surfaces == nil {
				b.surfaces = map[string]*mean{}
			}
			if b.surfaces[x.Channel.Probe] == nil {
				b.surfaces[x.Channel.Probe] = &mean{}
			}
			b.surfaces[x.Channel.Probe].add(rank, x.Value)
		}
	}
}

// appendTo adds the bucket's point, if anything good was measured in it.
func (b *bucket) appendTo(all []dashboards.Point, width time.Duration) []dashboards.Point {
	if b.air.n == 0 && b.humidity.n == 0 && len(b.surfaces) == 0 {
		return all
	}
	p := dashboards.Point{At: b.start.Add(width / 2), Surfaces: map[string]sensors.Celsius{}}
	if b.air.n > 0 {
		t := sensors.Celsius(b.air.value())
		p.Air = &t
	}
	if b.humidity.n > 0 {
		rh := sensors.RelativeHumidity(b.humidity.value())
		p.Humidity = &rh
	}
	if p.Air != nil && p.Humidity != nil && *p.Humidity > 0 {
		dew := air.DewPoint(*p.Air, *p.Humidity)
		p.DewPoint = &dew
	}
	for probe, m := range b.surfaces {
		p.Surfaces[probe] = sensors.Celsius(m.value())
	}
	return append(all, p)
}
