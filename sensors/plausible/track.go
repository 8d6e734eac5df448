package plausible

import (
	"fmt"
	"time"
)

// track is what was seen of one channel.
type track struct {
	begun bool
	level point // the last value that was believed
	rival point // the last value of a new level that is not
	votes int   // how many in a row speak for the rival

	moved bool  // still is set
	still point // the last value that differed from the one before it
	full  time.Duration
	wet   bool // the humidity is at the end of its scale, since full
}

type point struct {
	at    time.Duration
	value float64
}

// check takes in a value and returns what speaks against it.
func (t *track) check(at time.Duration, v float64, l Limits) error {
	rules := []error{t.outside(v, l), t.tooFast(at, v, l), t.tooStill(at, v, l), t.tooWet(at, v, l)}
	for _, err := range rules {
		if err != nil {
			return err
		}
	}
	return nil
}

func (t *track) outside(v float64, l Limits) error {
	if (l.Min != 0 || l.Max != 0) && (v < l.Min || v > l.Max) {
		return fmt.Errorf("%g is outside %g to %g", v, l.Min, l.Max)
	}
	return nil
}

// tooFast compares with the level that was last believed. A value too far from
// it is a rival, until so many in a row agree with each other that it is the new
// level.
func (t *track) tooFast(at time.Duration, v float64, l Limits) error {
	now := point{at, v}
	switch {
	case l.Step == 0:
		return nil
	case !t.begun || at-t.level.at > forgotten && t.votes == 0 || now.reachable(t.level, l):
		t.begun, t.level, t.votes = true, now, 0
		return nil
	case t.votes > 0 && now.reachable(t.rival, l):
		t.votes++
	default:
		t.votes = 1
	}
	t.rival = now
	if t.votes >= confirmations {
		t.level, t.votes = now, 0
		return nil
	}
	return fmt.Errorf("%g after %g is faster than a room changes; it counts once %d in a row agree", v, t.level.value, confirmations)
}

// reachable reports whether a room can have come from there to here.
func (p point) reachable(from point, l Limits) bool {
	most := l.Step * max(float64(p.at-from.at)/float64(StepTime), 1)
	if l.MaxStep > 0 {
		most = min(most, max(l.MaxStep, l.Step))
	}
	d := p.value - from.value
	return d <= most && d >= -most
}

func (t *track) tooStill(at time.Duration, v float64, l Limits) error {
	if !t.moved || v != t.still.value {
		t.moved, t.still = true, point{at, v}
		return nil
	}
	if l.Still > 0 && at-t.still.at >= l.Still {
		return fmt.Errorf("exactly %g for %s: the sensor no longer measures", v, (at - t.still.at).Round(time.Minute))
	}
	return nil
}

func (t *track) tooWet(at time.Duration, v float64, l Limits) error {
	if l.Full == 0 || v < l.Full {
		t.wet = false
		return nil
	}
	if !t.wet {
		t.wet, t.full = true, at
	}
	if at-t.full > l.FullTime {
		return fmt.Errorf("at the end of its scale for %s: the sensor is wet, or spoilt", (at - t.full).Round(time.Minute))
	}
	return nil
}
