package follow

import (
	"context"
	"fmt"
	"time"

	"recoat/drying"
	"recoat/internal/shop"
	"recoat/internal/shop/schedule"
	"recoat/internal/store"
	"recoat/sensors"
)

// Readings is what was measured.
type Readings interface {
	Rounds(ctx context.Context, q store.Query, each func(sensors.Round) error) error
}

// Reader reads how far coats are.
type Reader struct {
	Readings Readings // nil: nothing was measured
	Places   Places   // nil: every part stayed in the room in which its coat was put on
}

// Look says how far the coats of a piece are at an instant, for the schedule.
// After left, the zero time for a piece that is still here, a coat goes on at
// the conditions of its label: nobody measures those of the buyer's house.
func (r Reader) Look(ctx context.Context, coats []shop.Coat, left, at time.Time) (schedule.Look, error) {
	known := map[string]schedule.Coat{}
	for _, c := range coats {
		if !c.Undone.IsZero() || c.Applied.After(at) {
			continue
		}
		one, err := r.Coat(ctx, c, left, at)
		if err != nil {
			return nil, err
		}
		known[c.ID] = one
	}
	return func(id string) (schedule.Coat, bool) {
		c, ok := known[id]
		return c, ok
	}, nil
}

// Coat says how far one coat is at an instant; left is as for Look. Without any
// reading since it was put on it goes by its label alone, and says so.
func (r Reader) Coat(ctx context.Context, c shop.Coat, left, at time.Time) (schedule.Coat, error) {
	until, ahead := at, drying.Outlook(nil)
	if !left.IsZero() && left.Before(at) {
		until, ahead = left, asOnLabel(c.Product.Label)
	}
	samples, err := r.samples(ctx, c, until)
	if err != nil {
		return schedule.Coat{}, fmt.Errorf("read how far the coat %s is: %w", c.ID, err)
	}
	one := schedule.Coat{Applied: c.Applied, ByLabel: len(samples) == 0}
	if one.ByLabel {
		until, ahead = c.Applied, asOnLabel(c.Product.Label)
	}
	f := drying.NewFollower(drying.Coat{Product: c.Product.Label, Applied: c.Applied, Film: c.Film})
	if err := f.Add(samples...); err != nil {
		return schedule.Coat{}, fmt.Errorf("follow the coat %s: %w", c.ID, err)
	}
	one.Estimates = f.Estimates(until, ahead)
	if c.Product.Label.Stated.RecoatBy > 0 {
		one.RecoatBy = f.Window(until, ahead).Likely
	}
	return one, nil
}

// samples are the conditions of a coat from when it was put on.
func (r Reader) samples(ctx context.Context, c shop.Coat, until time.Time) ([]drying.Sample, error) {
	if r.Readings == nil {
		return nil, nil
	}
	stays, err := Stays(ctx, r.Places, c)
	if err != nil {
		return nil, err
	}
	return Samples(ctx, r.Readings, stays, until)
}

// asOnLabel is an outlook at which the label's own times hold.
func asOnLabel(p drying.Product) drying.Outlook {
	return func(time.Time) (drying.Conditions, bool) {
		return drying.Conditions{Air: p.Stated.Air, Humidity: p.Stated.Humidity, Surface: p.Stated.Air, SurfaceMeasured: true}, true
	}
}
