package store

import (
	"context"
	"fmt"
	"slices"
	"time"

	"recoat/sensors"
)

// Copied says what a Copy did.
type Copied struct {
	Rooms  int
	Rounds int64
}

const (
	copyWindow = 24 * time.Hour
	copyBatch  = 500
)

// Copy appends every round of one store to another, then reads both and
// compares: an error means that some are not there as they were. Rounds that
// the other store holds besides are left alone. What is copied twice is there
// once. progress is told how much of the whole, from 0 to 1, is done.
func Copy(ctx context.Context, from, to Readings, progress func(share float64, at time.Time)) (Copied, error) {
	rooms, err := roomExtents(ctx, from)
	if err != nil {
		return Copied{}, fmt.Errorf("copy readings: %w", err)
	}
	c := copier{ctx: ctx, from: from, to: to, progress: progress}
	for _, e := range rooms {
		c.whole += 2 * (e.Last.Sub(e.First).Truncate(copyWindow) + copyWindow) // once to copy, once to compare
	}
	for _, step := range []func(Query) error{c.copyWindow, c.compareWindow} {
		for _, e := range rooms {
			if err := c.each(e, step); err != nil {
				return c.copied, fmt.Errorf("copy readings: room %q: %w", e.Room, err)
			}
		}
	}
	c.copied.Rooms = len(rooms)
	return c.copied, nil
}

// roomExtents returns the extent of each room, in order of name.
func roomExtents(ctx context.Context, r Readings) ([]Extent, error) {
	extents, err := r.Extents(ctx)
	if err != nil {
		return nil, err
	}
	var rooms []Extent
	for _, e := range extents {
		if len(rooms) == 0 || rooms[len(rooms)-1].Room != e.Room {
			rooms = append(rooms, Extent{Series: Series{Room: e.Room}})
		}
		last := &rooms[len(rooms)-1]
		*last = last.With(last.Series, e.First).With(last.Series, e.Last)
	}
	return rooms, nil
}

type copier struct {
	ctx         context.Context
	from, to    Readings
	progress    func(float64, time.Time)
	whole, done time.Duration
	copied      Copied
}

// each runs step over a room, a day at a time.
func (c *copier) each(e Extent, step func(Query) error) error {
	for at := e.First; !at.After(e.Last); at = at.Add(copyWindow) {
		if err := step(Query{Room: e.Room, From: at, To: at.Add(copyWindow)}); err != nil {
			return err
		}
		c.done += copyWindow
		c.progress(min(1, float64(c.done)/float64(c.whole)), at)
	}
	return nil
}

func (c *copier) copyWindow(q Query) error {
	rounds, err := All(c.ctx, c.from, q)
	if err != nil {
		return err
	}
	for batch := range slices.Chunk(rounds, copyBatch) {
		if err := c.to.Append(c.ctx, q.Room, batch); err != nil {
			return err
		}
	}
	c.copied.Rounds += int64(len(rounds))
	return nil
}

// compareWindow holds a day of the copy to the day it was made of.
func (c *copier) compareWindow(q Query) error {
	rounds, err := All(c.ctx, c.from, q)
	if err != nil {
		return err
	}
	there, err := All(c.ctx, c.to, q)
	if err != nil {
		return err
	}
	held := make(map[identity]sensors.Round, len(there))
	for _, r := range there {
		held[identity{r.Node, r.Boot, r.Seq}] = r
	}
	for _, r := range rounds {
		copy, ok := held[identity{r.Node, r.Boot, r.Seq}]
		if !ok {
			return fmt.Errorf("round %d of boot %q of node %q, of %s, is not in the copy", r.Seq, r.Boot, r.Node, r.Time.Format(time.RFC3339))
		}
		if _, changed := Replace(copy, r); changed {
			return fmt.Errorf("round %d of boot %q of node %q, of %s, is another in the copy", r.Seq, r.Boot, r.Node, r.Time.Format(time.RFC3339))
		}
	}
	return nil
}

// All returns the rounds that q asks for.
func All(ctx context.Context, r Readings, q Query) (rounds []sensors.Round, err error) {
	err = r.Rounds(ctx, q, func(x sensors.Round) error {
		rounds = append(rounds, x)
		return nil
	})
	return rounds, err
}
