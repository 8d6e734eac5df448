package forecast

import (
	"iter"
	"math"
	"slices"
)

// kept is for how many origins errors are kept.
const kept = 21 * perDay

// past holds the errors of one lead, by origin and in order of size. A forecaster
// has hundreds of these, so each takes no more room than its history calls for.
type past struct {
	errors []float32 // by place, which is the origin modulo kept
	turns  []uint16  // how many times kept the origin at each place holds, and one; 0: nothing is there
	order  []uint16  // the places that hold something, by their errors
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

// len is how many errors are held.
func (p *past) len() int { return len(p.order) }

// at is what a place holds.
func (p *past) at(place uint16) pastError {
	return pastError{float64(p.errors[place]), p.origin(int(place))}
}

// origin is that of what a place holds; below 0 where it holds nothing.
func (p *past) origin(place int) int { return (int(p.turns[place])-1)*kept + place }

// inOrder goes through the errors, the least first.
func (p *past) inOrder() iter.Seq[pastError] {
	return func(yield func(pastError) bool) {
		for _, place := range p.order {
			if !yield(p.at(place)) {
				return
			}
		}
	}
}

// find returns where in the order an error is, or would be.
func (p *past) find(e pastError) (int, bool) {
	return slices.BinarySearchFunc(p.order, e, func(place uint16, e pastError) int { return p.at(place).compare(e) })
}

func (p *past) add(origin int, err float64) {
	place := origin % kept
	for len(p.turns) <= place {
		p.turns, p.errors = append(p.turns, 0), append(p.errors, 0)
	}
	if p.turns[place] > 0 {
		if i, found := p.find(p.at(uint16(place))); found {
			p.order = slices.Delete(p.order, i, i+1)
		}
	}
	p.errors[place], p.turns[place] = float32(err), uint16(origin/kept)+1
	i, _ := p.find(p.at(uint16(place)))
	p.order = slices.Insert(p.order, i, uint16(place))
}

// of returns the error of the forecast made at an origin, if it is known.
func (p *past) of(origin int) (float64, bool) {
	place := origin % kept
	if place >= len(p.turns) || p.origin(place) != origin {
		return 0, false
	}
	return float64(p.errors[place]), true
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
	for e := range p.inOrder() {
		v := w.of(e.origin, now, lead)
		scratch = append(scratch, v)
		total += v
	}
	k, before, middle := 0, 0.0, 0.0
	for i, place := range p.order {
		e := float64(p.errors[place])
		last := middle
		middle = before + scratch[i]/2
		before += scratch[i]
		for k < len(levels) && middle >= levels[k]*total {
			out[k] = e
			if i > 0 {
				share := (levels[k]*total - last) / (middle - last)
				out[k] += (1 - share) * (float64(p.errors[p.order[i-1]]) - e)
			}
			k++
		}
	}
	for ; k < len(levels); k++ {
		out[k] = float64(p.errors[p.order[len(p.order)-1]])
	}
	return scratch
}
