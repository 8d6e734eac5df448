package follow

import (
	"context"
	"time"

	"recoat/drying"
	"recoat/internal/room"
	"recoat/internal/shop"
	"recoat/internal/store"
	"recoat/sensors"
)

// Places says where the part of a coat has been since the coat was put on.
type Places interface {
	Stays(ctx context.Context, c shop.Coat) ([]shop.Stay, error)
}

// Stays are where a part has been, as far as places tell; where nobody does, it
// stayed where the coat was put on. A probe told of late counts from before it.
func Stays(ctx context.Context, places Places, c shop.Coat) ([]shop.Stay, error) {
	if places == nil {
		return []shop.Stay{{From: c.Applied, Room: c.Room, Probe: c.Part.Probe}}, nil
	}
	all, err := places.Stays(ctx, c)
	return shop.JoinProbes(all), err
}

// Samples are the conditions on a part through its stays until an instant,
// minute by minute: each room's air for its own time.
func Samples(ctx context.Context, readings Readings, stays []shop.Stay, until time.Time) ([]drying.Sample, error) {
	var all []drying.Sample
	for i, s := range stays {
		end := until
		if i+1 < len(stays) && stays[i+1].From.Before(end) {
			end = stays[i+1].From
		}
		if s.Room == "" || !s.From.Before(end) {
			continue
		}
		var record room.Record
		err := readings.Rounds(ctx, store.Query{Room: s.Room, From: s.From, To: end}, func(r sensors.Round) error {
			record.Add(r)
			return nil
		})
		if err != nil {
			return nil, err
		}
		for _, x := range record.Samples(s.Probe) {
			if n := len(all); n == 0 || x.At.After(all[n-1].At) { // the minute of a move counts once
				all = append(all, x)
			}
		}
	}
	return all, nil
}
