package seal

import (
	"context"
	"errors"
	"slices"
	"time"

	"recoat/internal/store"
	"recoat/sensors"
)

// lookBack is how much of a room is read at a time to find rounds again.
const lookBack = 24 * time.Hour

// settle tells rounds that went to another day, once their clock was set, from
// rounds that are nowhere any more: those are removed. later is the day as it is
// now.
func (d *Difference) settle(ctx context.Context, from store.Readings, room string, later Index) error {
	there := later.marks()
	wanted := map[RoundID]bool{}
	for _, id := range d.Dated {
		if _, found := there[id]; !found {
			wanted[id] = true
		}
	}
	if err := findSet(ctx, from, room, wanted); err != nil {
		return err
	}
	d.Dated = slices.DeleteFunc(d.Dated, func(id RoundID) bool { return wanted[id] })
	for id := range wanted {
		d.Removed = append(d.Removed, id)
	}
	slices.SortFunc(d.Removed, RoundID.compare)
	return nil
}

// errAllFound ends a search.
var errAllFound = errors.New("all are found")

// findSet takes out of wanted what a room holds with its clock set. The newest
// days are read first: a clock is set soon after a start.
func findSet(ctx context.Context, from store.Readings, room string, wanted map[RoundID]bool) error {
	if len(wanted) == 0 {
		return nil
	}
	first, last, err := extentOf(ctx, from, room)
	if err != nil {
		return err
	}
	for to := last.Add(lookBack); to.After(first); to = to.Add(-lookBack) {
		err := from.Rounds(ctx, store.Query{Room: room, From: to.Add(-lookBack), To: to}, func(r sensors.Round) error {
			if r.ClockSet {
				delete(wanted, idOf(r))
			}
			if len(wanted) == 0 {
				return errAllFound
			}
			return nil
		})
		if errors.Is(err, errAllFound) {
			return nil
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// extentOf is the time of a room's first and last reading; both are zero where
// it has none.
func extentOf(ctx context.Context, from store.Readings, room string) (first, last time.Time, err error) {
	extents, err := from.Extents(ctx)
	for _, e := range extents {
		if e.Room != room {
			continue
		}
		if first.IsZero() || e.First.Before(first) {
			first = e.First
		}
		if e.Last.After(last) {
			last = e.Last
		}
	}
	return first, last, err
}
