package plan

import (
	"math"
	"slices"
	"time"
)

// Times are the instants by which one in ten, half and nine in ten of the
// members have come to something; zero where so many never do.
type Times struct{ Low, Likely, High time.Time }

// never is how far off something is that does not come to pass.
const never = time.Duration(math.MaxInt64)

func share(part, whole int) float64 { return float64(part) / float64(whole) }

// timesOf reads the quantiles off instants of all members, counted from start.
func timesOf(all []time.Duration, start time.Time) Times {
	sorted := slices.Sorted(slices.Values(all))
	at := func(p float64) time.Time {
		d := quantile(sorted, p)
		if d == never {
			return time.Time{}
		}
		return start.Add(d)
	}
	return Times{at(0.1), at(0.5), at(0.9)}
}

// quantile takes each of sorted values for the middle of an equal share.
func quantile(sorted []time.Duration, p float64) time.Duration {
	at := min(max(p*float64(len(sorted))-0.5, 0), float64(len(sorted)-1))
	whole, part := math.Modf(at)
	low := sorted[int(whole)]
	if part == 0 {
		return low
	}
	high := sorted[int(whole)+1]
	if high == never {
		return never
	}
	return low + time.Duration(math.Round(part*float64(high-low)))
}
