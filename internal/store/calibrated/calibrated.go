// Package calibrated reads a store through the checks of its sensors: what comes
// out is corrected, what is kept stays raw.
package calibrated

import (
	"context"
	"time"

	"recoat/internal/store"
	"recoat/sensors"
	"recoat/sensors/calibration"
)

// Readings is a store whose rounds and rollups come back corrected. Append
// takes raw rounds.
type Readings struct {
	store.Readings
	book *calibration.Book
}

// New returns raw read through a book.
func New(raw store.Readings, book *calibration.Book) Readings { return Readings{raw, book} }

// Rounds implements store.Readings.
func (r Readings) Rounds(ctx context.Context, q store.Query, each func(sensors.Round) error) error {
	return r.Readings.Rounds(ctx, q, func(round sensors.Round) error {
		return each(r.book.Correct(q.Room, round))
	})
}

// Rollups implements store.Readings. A bucket in which a check was made is
// corrected by the one that held at its start.
func (r Readings) Rollups(ctx context.Context, s store.Series, width time.Duration, from, to time.Time) ([]store.Rollup, error) {
	all, err := r.Readings.Rollups(ctx, s, width, from, to)
	for i, x := range all {
		c, ok := r.book.Of(s.Room, s.Node, s.Channel, x.Start)
		if !ok || x.Good == 0 {
			continue
		}
		all[i].Min, all[i].Max = c.Apply(x.Min), c.Apply(x.Max)
		all[i].Sum = float64(x.Good) * c.Apply(x.Sum/float64(x.Good))
	}
	return all, err
}
