package influx

import (
	"context"
	"time"

	"github.com/influxdata/influxdb-client-go/v2/api/write"

	"recoat/internal/store"
	"recoat/sensors"
)

// plan is what a batch of the queue does to the server.
type plan struct {
	points []step
	hours  map[hour]struct{}
}

// step is one point, and the entry of the queue that it comes of.
type step struct {
	entry int64
	point *write.Point
}

// resolver turns entries into a plan, one after the other: what an earlier one
// of the batch did counts for a later one.
type resolver struct {
	store   *Store
	ctx     context.Context
	plan    plan
	foreign map[device]map[int64]sensors.Round
}

// device is a node that has no boot.
type device struct{ room, node string }

func (s *Store) resolve(ctx context.Context, entries []entry) (plan, error) {
	r := resolver{store: s, ctx: ctx, plan: plan{hours: map[hour]struct{}{}}, foreign: map[device]map[int64]sensors.Round{}}
	if err := r.meetForeign(entries); err != nil {
		return r.plan, err
	}
	for _, e := range entries {
		if e.round.Boot == "" {
			r.merge(e)
			continue
		}
		if err := r.place(e); err != nil {
			return r.plan, err
		}
	}
	return r.plan, nil
}

// meetForeign reads what the server has of the foreign devices of a batch.
func (r *resolver) meetForeign(entries []entry) error {
	type reach struct{ from, to time.Time }
	reaches := map[device]reach{}
	for _, e := range entries {
		if e.round.Boot != "" {
			continue
		}
		d, at := device{e.room, e.round.Node}, e.round.Time
		x, ok := reaches[d]
		if !ok {
			x = reach{at, at}
		}
		if x.from = earlier(x.from, at); at.After(x.to) {
			x.to = at
		}
		reaches[d] = x
	}
	for d, x := range reaches {
		held, err := r.store.foreignHeld(r.ctx, d.room, d.node, x.from, x.to.Add(time.Millisecond))
		if err != nil {
			return err
		}
		r.foreign[d] = held
	}
	return nil
}

func (r *resolver) merge(e entry) {
	known := r.foreign[device{e.room, e.round.Node}]
	ms := e.round.Time.UnixMilli()
	kept := e.round
	if held, ok := known[ms]; ok {
		var changed bool
		if kept, changed = store.Replace(held, e.round); !changed {
			return
		}
	}
	known[ms] = kept
	r.put(e, kept, false)
}

// place puts a round of one of our nodes where it belongs, and takes it away
// from where it was.
func (r *resolver) place(e entry) error {
	held, err := r.store.spanHeld(r.ctx, spanIn(e.room, e.round))
	if err != nil {
		return err
	}
	for _, v := range held[e.round.Seq] {
		if v.set && !e.round.ClockSet {
			return nil // as store.Replace has it
		}
	}
	ms := e.round.Time.UnixMilli()
	for _, v := range held[e.round.Seq] {
		if v.ms != ms {
			old := e.round
			old.Time = time.UnixMilli(v.ms).UTC()
			r.put(e, old, true)
		}
	}
	held[e.round.Seq] = []version{{ms, e.round.ClockSet}}
	r.put(e, e.round, false)
	return nil
}

func (r *resolver) put(e entry, round sensors.Round, moved bool) {
	r.plan.points = append(r.plan.points, step{e.id, roundPoint(e.room, round, moved)})
	r.plan.hours[hour{e.room, round.Node, store.BucketStart(round.Time, time.Hour).UnixMilli()}] = struct{}{}
}
