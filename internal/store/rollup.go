package store

import (
	"fmt"
	"slices"
	"time"

	"recoat/sensors"
)

// Widths returns the widths of the buckets that are kept, narrowest first. A
// bucket starts at a whole multiple of its width since 1970-01-01T00:00:00Z.
func Widths() []time.Duration { return []time.Duration{10 * time.Minute, time.Hour} }

// CheckWidth returns ErrInvalid unless width is one of Widths.
func CheckWidth(width time.Duration) error {
	if !slices.Contains(Widths(), width) {
		return fmt.Errorf("%w: rollups are kept at widths of %v, not %v", ErrInvalid, Widths(), width)
	}
	return nil
}

// BucketStart returns the start of the bucket that holds t, which is not
// before 1970.
func BucketStart(t time.Time, width time.Duration) time.Time {
	ms := t.UnixMilli()
	return time.UnixMilli(ms - ms%width.Milliseconds()).UTC()
}

// Rollup sums up the readings of one series from Start up to, but not at,
// Start plus the width. Min, Max and Sum are of the good readings alone, in
// the unit of the quantity, and zero where there is none.
type Rollup struct {
	Start         time.Time
	Good          int64 // good readings
	Other         int64 // readings of any other quality, missing ones too
	Min, Max, Sum float64
}

// Mean returns the mean of the good readings, and whether there is one.
func (r Rollup) Mean() (float64, bool) {
	if r.Good == 0 {
		return 0, false
	}
	return r.Sum / float64(r.Good), true
}

// Tally is a Rollup under way: Min, Max and Sum are whole steps of the
// quantity, so that adding in any order gives the same.
type Tally struct {
	Good, Other   int64
	Min, Max, Sum int64
}

// Add counts one reading.
func (t *Tally) Add(x sensors.Reading) {
	if x.Quality != sensors.Good {
		t.Other++
		return
	}
	n := x.Channel.Quantity.Steps(x.Value)
	if t.Good == 0 {
		t.Min, t.Max = n, n
	}
	t.Good++
	t.Min, t.Max, t.Sum = min(t.Min, n), max(t.Max, n), t.Sum+n
}

// Rollup returns the tally of a bucket of quantity q as a Rollup.
func (t Tally) Rollup(start time.Time, q sensors.Quantity) Rollup {
	return Rollup{
		Start: start, Good: t.Good, Other: t.Other,
		Min: q.FromSteps(t.Min), Max: q.FromSteps(t.Max), Sum: q.FromSteps(t.Sum),
	}
}
