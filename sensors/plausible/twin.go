package plausible

import (
	"fmt"
	"math"
	"time"

	"recoat/sensors"
)

// Twin is a pair of channels of one quantity in the same air. What separates
// them at first, by their tolerance and their places, is learnt; that it grows
// later means that one of them drifts, and neither says which.
type Twin struct {
	First, Second sensors.Channel
	Limit         float64       // how far the offset may move, in the quantity's unit
	Learn         time.Duration // how long the offset is learnt; 0: a day
	Offset        float64       // second less first, as learnt before
	Known         bool          // there is an Offset
}

func (t Twin) check() error {
	switch {
	case t.First.Quantity == 0 || t.Second.Quantity == 0:
		return errNoChannel
	case t.First.Quantity != t.Second.Quantity || t.First == t.Second:
		return fmt.Errorf("%s and %s are no twins: want two channels of one quantity", t.First, t.Second)
	case !(t.Limit > 0):
		return fmt.Errorf("%s and %s may differ by %v more: want more than 0", t.First, t.Second, t.Limit)
	}
	return nil
}

const (
	learning  = 24 * time.Hour
	smoothing = time.Hour // a draught at one of the two is no drift
)

// pair is a Twin and what was seen of it.
type pair struct {
	Twin
	offset float64
	learnt bool

	begun    bool
	from, at time.Duration
	smooth   float64 // second less first, smoothed
	sum      float64 // of differences times seconds, while learning
	seconds  float64
}

// check takes in a round and returns what speaks against both.
func (p *pair) check(at time.Duration, first, second sensors.Reading) error {
	if first.Quality != sensors.Good || second.Quality != sensors.Good {
		return nil
	}
	p.follow(at, second.Value-first.Value)
	if !p.learnt {
		p.learn(at)
		return nil
	}
	if moved := p.smooth - p.offset; math.Abs(moved) > p.Limit {
		return fmt.Errorf("%s and %s have drifted %.2g apart since their offset was learnt: check both", p.First, p.Second, moved)
	}
	return nil
}

func (p *pair) follow(at time.Duration, difference float64) {
	if !p.begun {
		p.begun, p.from, p.at = true, at, at
		p.smooth = difference
		if p.learnt {
			p.smooth = p.offset
		}
		return
	}
	dt := max(at-p.at, 0)
	p.at = at
	p.smooth += (difference - p.smooth) * -math.Expm1(-float64(dt)/float64(smoothing))
	p.sum += difference * min(dt, smoothing).Seconds()
	p.seconds += min(dt, smoothing).Seconds()
}

// learn settles the offset once the time for that is over.
func (p *pair) learn(at time.Duration) {
	takes := p.Learn
	if takes == 0 {
		takes = learning
	}
	if at-p.from >= takes && p.seconds > 0 {
		p.offset, p.learnt = p.sum/p.seconds, true
	}
}
