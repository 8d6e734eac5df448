package demo

import (
	"context"
	"fmt"
	"slices"
	"time"

	"recoat/drying"
	"recoat/internal/agent"
	"recoat/internal/shop"
	"recoat/sensors/poll"
	"recoat/sensors/wiring"
)

// Past is how much history the simulated room begins with.
const Past = 30 * time.Hour

// The steps in which history is sampled: coarse at first, finer where the
// demo's coats begin.
const (
	coarse   = 10 * time.Minute
	fine     = 2 * time.Minute
	fineFrom = 4 * time.Hour
)

// waterShare is the share of a waterborne coat that is water, by volume. An
// invented product's; common practice is half to two thirds, no source.
const waterShare = 0.55

// Simulated describes the demo's room, from Past before now.
func Simulated(now time.Time) wiring.Simulated {
	return wiring.Simulated{
		Room: "back-room", Seed: 7, Start: now.Add(-Past),
		Probes: []wiring.Probed{
			{ROM: DoorProbe, Name: DoorProbe, Thickness: 0.022, Area: 1.1},
			{ROM: TopProbe, Name: TopProbe, Thickness: 0.030, Area: 0.7},
		},
	}
}

// CatchUp brings the simulated room up to now and has the agent sample it, from
// the instant given on, just as it would have at the time. Waterborne coats
// give off their water when they were put on.
func CatchUp(ctx context.Context, sim *wiring.Simulation, a *agent.Agent, coats []shop.Coat, from, now time.Time) error {
	began := sim.Now()
	for at := began; at.Before(now); {
		step := coarse
		if now.Sub(at) <= fineFrom {
			step = fine
		}
		step = min(step, now.Sub(at))
		if err := sim.Advance(step); err != nil {
			return fmt.Errorf("simulated room: %w", err)
		}
		before := at
		at = at.Add(step) // the room itself moves in steps of its own and may lag a little
		if err := wet(sim, coats, before, at); err != nil {
			return err
		}
		if at.Before(from) {
			continue
		}
		if err := a.Once(ctx, poll.Instant{Wall: at, Uptime: at.Sub(began), Set: true}); err != nil {
			return err
		}
	}
	return nil
}

// wet applies the coats put on after from and not after to.
func wet(sim *wiring.Simulation, coats []shop.Coat, from, to time.Time) error {
	for _, c := range coats {
		known := slices.Contains([]string{DoorProbe, TopProbe}, c.Part.Probe)
		if !known || c.Product.Label.Family != drying.Waterborne || !c.Applied.After(from) || c.Applied.After(to) {
			continue
		}
		film := c.Film
		if film == 0 {
			film = c.Product.Label.Stated.Film
		}
		// A litre on a square metre is a film of 1000 µm; water weighs 1 kg/L.
		if err := sim.Apply(c.Part.Probe, float64(film)/1000*waterShare); err != nil {
			return fmt.Errorf("simulated room: %w", err)
		}
	}
	return nil
}

// Clock is the clock of a simulated node: the machine's, taken as set, with an
// uptime that goes on from the simulated history.
type Clock struct{ Began time.Time }

// Now is the present.
func (c Clock) Now() poll.Instant {
	now := time.Now()
	return poll.Instant{Wall: now, Uptime: now.Sub(c.Began), Set: true}
}

// Run keeps the simulated room in step with the clock until ctx ends. Setting
// the wall clock does not touch the room.
func Run(ctx context.Context, sim *wiring.Simulation) error {
	beat := time.NewTicker(time.Second)
	defer beat.Stop()
	last := time.Now()
	for {
		select {
		case <-ctx.Done():
			return nil
		case now := <-beat.C:
			if err := sim.Advance(now.Sub(last)); err != nil {
				return fmt.Errorf("simulated room: %w", err)
			}
			last = now
		}
	}
}
