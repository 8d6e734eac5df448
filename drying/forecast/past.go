package forecast

import (
	"math"
	"slices"
)

// kept is for how many origins errors are kept.
const kept = 21 * perDay

// past holds the errors of one lead, in order of size and by origin.
type past struct {
	sorted []pastError
	ring   []pastError // by origin; an origin of -1 holds nothing
}

type pastError struct {
	error  float64 // truth less forecast
	origin int
}

func (e pastError) compare(o pastError) int {
	switch {
	case e.error < o.error:
		return -1
	case e.error > o.error:
		return 1
	}
	return e.origin - o.origin
}

func (p *past) add(origin int, err float64) {
	if p.ring == nil {
		p.ring = make([]pastError, kept)
		for i := range p.ring {
			p.ring[i].origin = -1
		}
	}
	slot := &p.ring[origin%kept]
	if slot.origin >= 0 {
		if i, found := slices.BinarySearchFunc(p.sorted, *slot, pastError.compare); found {
			p.sorted = slices.Delete(p.sorted, i, i+1)
		}
	}
	*slot = pastError{err, origin}
	i, _ := slices.BinarySearchFunc(p.sorted, *slot, pastError.compare)
	p.sorted = slices.Insert(p.sorted, i, *slot)
}

// of returns the error of the forecast made at an origin, if it is known.
func (p *past) of(origin int) (float64, bool) {
	if p.ring == nil || p.ring[origin%kept].origin != origin {
		return 0, false
	}
	return p.ring[origin%kept].error, true
}

// How past errors are weighted.
const (
	hourSpread = 5.0  // h, standard deviation of the kernel over the hour of the day
	hourFloor  = 0.02 // weight of the hours furthest off
	errorHalf  = 6.0  // days
	matureDays = 4    // forecasts from a shorter history were worse, and count less
)

// weights are those of errors by age and by origin, in tables.
type weights struct {
	hour    [perDay]float64
	recency [kept + leads + 1]float64
	mature  [matureDays * perDay]float64
}

func newWeights() *weights {
	w := &weights{}
	for i := range w.hour {
		hours := float64(min(i, perDay-i)) * Step.Hours()
		w.hour[i] = math.Exp(-hours * hours / (2 * hourSpread * hourSpread))
	}
	for i := range w.recency {
		w.recency[i] = math.Exp2(-float64(i) / (errorHalf * float64(perDay)))
	}
	for i := range w.mature {
		share := float64(i+1) / float64(len(w.mature))
		w.mature[i] = share * share
	}
	return w
}

func (w *weights) of(origin, now, lead int) float64 {
	age := now - origin
	v := w.hour[age%perDay]*w.recency[min(age-lead, len(w.recency)-1)] + hourFloor
	if origin < len(w.mature) {
		v *= w.mature[origin]
	}
	return v
}

// quantiles fills out with the weighted quantiles at the given levels, which
// rise. scratch saves allocating, and is returned for the next call.
func (p *past) quantiles(w *weights, now, lead int, levels, out, scratch []float64) []float64 {
	scratch = scratch[:0]
	total := 0.0
	for _, e := range p.sorted {
		v := w.of(e.origin, now, lead)
		scratch = append(scratch, v)
		total += v
	}
	k, before, middle := 0, 0.0, 0.0
	for i, e := range p.sorted {
		last := middle
		middle = before + scratch[i]/2
		before += scratch[i]
		for k < len(levels) && middle >= levels[k]*total {
			out[k] = e.error
			if i > 0 {
				share := (levels[k]*total - last) / (middle - last)
				out[k] += (1 - share) * (p.sorted[i-1].error - e.error)
			}
			k++
		}
	}
	for ; k < len(levels); k++ {
		out[k] = p.sorted[len(p.sorted)-1].error
	}
	return scratch
}
