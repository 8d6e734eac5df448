package drying

import (
	"slices"
	"time"

	"recoat/sensors"
)

// MaxGap is the longest time for which a sample stands. What lies between its
// end and the next sample is a gap: nothing is known of it. In a record kept
// at a slower, steady pace a sample stands for one and a half times the usual
// spacing, up to longestGap.
const MaxGap = 15 * time.Minute

const longestGap = 90 * time.Minute

// settling is how many samples settle how long each of a record stands.
const settling = 65

// standsFor returns how long a sample of the record stands, by the first ones.
// Only a record in which three spacings in four are long counts as slow: a few
// long ones are gaps.
func standsFor(samples []Sample) time.Duration {
	if len(samples) < 5 {
		return MaxGap
	}
	samples = samples[:min(len(samples), settling)]
	spacings := make([]time.Duration, 0, settling)
	for i := 1; i < len(samples); i++ {
		spacings = append(spacings, samples[i].At.Sub(samples[i-1].At))
	}
	slices.Sort(spacings)
	usual := spacings[len(spacings)/4]
	return min(max(MaxGap, usual+usual/2), longestGap)
}

// stretch is a part of a record through which the same conditions stand, or
// nothing is known (ok is false).
type stretch struct {
	from, to time.Time
	c        Conditions
	ok       bool
}

// stretches cuts the time between from and to into stretches, in order and
// without holes. Samples have to be in order of time; one that is out of order
// or doubled is passed over.
func stretches(samples []Sample, from, to time.Time, each func(stretch)) {
	stands := standsFor(samples)
	at := from
	emit := func(until time.Time, c Conditions, ok bool) {
		if until.After(to) {
			until = to
		}
		if until.After(at) {
			each(stretch{at, until, c, ok})
			at = until
		}
	}
	first := firstAfter(samples, from)
	for i := max(first-1, 0); i < len(samples) && at.Before(to); i++ {
		s := &samples[i]
		emit(s.At, Conditions{}, false) // what lies before it, if nothing covered that
		end := s.At.Add(stands)
		if i+1 < len(samples) && samples[i+1].At.Before(end) {
			end = samples[i+1].At
		}
		emit(end, s.Conditions, true)
	}
	emit(to, Conditions{}, false)
}

// firstAfter returns the place of the first sample after an instant.
func firstAfter(samples []Sample, at time.Time) int {
	i, _ := slices.BinarySearchFunc(samples, at, func(s Sample, at time.Time) int {
		if s.At.After(at) {
			return 1
		}
		return -1
	})
	return i
}

// meanOf returns the mean of conditions that Check accepts, or nil for none: what
// is held where nothing is forecast.
func meanOf(samples []measured) *Conditions {
	if len(samples) == 0 {
		return nil
	}
	var air, surface, humidity, speed float64
	for i := range samples {
		c := &samples[i].Conditions
		air += float64(c.Air)
		surface += float64(c.Surface)
		humidity += float64(c.Humidity)
		speed += float64(c.AirSpeed)
	}
	n := float64(len(samples))
	mean := samples[len(samples)-1].Conditions // what is known besides is as in the latest
	mean.Air = sensors.Celsius(air / n)
	mean.Surface = sensors.Celsius(surface / n)
	mean.Humidity = sensors.RelativeHumidity(humidity / n)
	mean.AirSpeed = sensors.MetresPerSecond(speed / n)
	return &mean
}
