package calibration

import (
	"fmt"
	"math"
	"time"

	"recoat/sensors"
)

// How long a sensor is left with the salt or the ice before its readings are
// looked at, and over how long they have to be steady. Twenty minutes are
// needed by small sensors (T. Padfield, "Conservation physics", saturated
// salts); the rest is common practice, no source.
const (
	SaltSoak   = time.Hour
	IceSoak    = 10 * time.Minute
	SaltSteady = 20 * time.Minute
	IceSteady  = 5 * time.Minute
)

// Steady limits over the window: what the value may drift and how it may
// scatter. Common practice, no source.
const (
	humidityDrift = 0.3 // %RH over the window
	kelvinDrift   = 0.1 // K over the window
	warmthDrift   = 0.5 // K of the air beside a humidity sensor
	fewest        = 10  // readings in the window
)

// Point is a raw reading while a sensor soaks. Warmth is the air temperature
// beside a humidity sensor; it is the value again for a thermometer.
type Point struct {
	At     time.Time
	Value  float64
	Warmth sensors.Celsius
}

// Soak is what is being waited for.
type Soak struct {
	Quantity sensors.Quantity
	Began    time.Time // when the sensor was put in
}

// Progress is how far a soak has come.
type Progress struct {
	Steady bool
	Why    string        // what is still missing, in a sentence; empty once steady
	Left   time.Duration // at least so long still
	Mean   float64       // over the window
	Warmth sensors.Celsius
	Sigma  float64 // standard uncertainty of the mean, with what it drifted
	Points int     // in the window
}

func (s Soak) spans() (soak, window time.Duration) {
	if s.Quantity == sensors.AirHumidity {
		return SaltSoak, SaltSteady
	}
	return IceSoak, IceSteady
}

func (s Soak) drift() float64 {
	if s.Quantity == sensors.AirHumidity {
		return humidityDrift
	}
	return kelvinDrift
}

// At looks at the raw readings since the sensor was put in, in order of time,
// and says at now whether they have come to rest.
func (s Soak) At(points []Point, now time.Time) Progress {
	soak, window := s.spans()
	var recent []Point
	for _, p := range points {
		if !p.At.Before(now.Add(-window)) && !p.At.Before(s.Began) && !p.At.After(now) {
			recent = append(recent, p)
		}
	}
	p := Progress{Points: len(recent)}
	switch {
	case len(recent) > 0:
		p.Mean, p.Warmth, p.Sigma = rest(recent)
	}
	p.Why, p.Left = s.missing(recent, now, soak, window)
	p.Steady = p.Why == ""
	return p
}

// missing says what speaks against a result, and how long to wait at least.
func (s Soak) missing(recent []Point, now time.Time, soak, window time.Duration) (string, time.Duration) {
	if left := s.Began.Add(soak).Sub(now); left > 0 {
		return "the sensor has to soak longer", left
	}
	if len(recent) < fewest || recent[0].At.After(now.Add(-window*3/4)) {
		return fmt.Sprintf("too few readings came in the last %.0f minutes; see that the node is still heard", window.Minutes()), window / 4
	}
	if d := drifted(recent, func(p Point) float64 { return p.Value }); math.Abs(d) > s.drift() {
		return fmt.Sprintf("the reading still drifts, by %+.2f %s in %.0f minutes", d, shownUnit(s.Quantity), window.Minutes()), window / 2
	}
	if d := drifted(recent, func(p Point) float64 { return float64(p.Warmth) }); s.Quantity == sensors.AirHumidity && math.Abs(d) > warmthDrift {
		return fmt.Sprintf("the temperature still drifts, by %+.2f K in %.0f minutes: put the box where it is steady", d, window.Minutes()), window / 2
	}
	return "", 0
}

// rest is the mean of the points, with its standard uncertainty: the scatter of
// one reading, since neighbours are not independent, and a drift taken as an
// even spread.
func rest(points []Point) (mean float64, warmth sensors.Celsius, sigma float64) {
	n := float64(len(points))
	var sum, heat float64
	for _, p := range points {
		sum, heat = sum+p.Value, heat+float64(p.Warmth)
	}
	mean, warmth = sum/n, sensors.Celsius(heat/n)
	var squares float64
	for _, p := range points {
		squares += (p.Value - mean) * (p.Value - mean)
	}
	return mean, warmth, math.Sqrt(squares / n)
}

// drifted is how far the straight line through the points moves over their
// span (least squares).
func drifted(points []Point, of func(Point) float64) float64 {
	first, last := points[0].At, points[len(points)-1].At
	var n, x, y, xx, xy float64
	for _, p := range points {
		t, v := p.At.Sub(first).Seconds(), of(p)
		n, x, y, xx, xy = n+1, x+t, y+v, xx+t*t, xy+t*v
	}
	d := n*xx - x*x
	if d <= 0 {
		return 0
	}
	return (n*xy - x*y) / d * last.Sub(first).Seconds()
}
