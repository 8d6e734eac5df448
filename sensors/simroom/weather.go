package simroom

import (
	"math"
	"math/rand/v2"
	"time"

	"recoat/drying/air"
	"recoat/sensors"
)

// weather is the outdoor climate as it unfolds. The slow part is a stationary
// first-order Gauss-Markov process with a knot every hour, straight in between.
type weather struct {
	climate    Climate
	rng        *rand.Rand
	keep       float64   // what an hour leaves of the last deviation
	knot       time.Time // of last
	last, next deviations
}

// deviations from the mean of temperature, dew deficit and pressure, in
// standard deviations.
type deviations [3]float64

// outdoors is the weather of one instant.
type outdoors struct {
	temperature sensors.Celsius
	dewPoint    sensors.Celsius
	pressure    sensors.Pascals
}

func newWeather(c Climate, start time.Time, rng *rand.Rand) *weather {
	w := &weather{climate: c, rng: rng, knot: start}
	if c.Persistence > 0 {
		w.keep = math.Exp(-float64(time.Hour) / float64(c.Persistence))
	}
	for i := range w.last {
		w.last[i] = rng.NormFloat64()
	}
	w.next = w.draw(w.last)
	return w
}

func (w *weather) draw(from deviations) deviations {
	spread := math.Sqrt(1 - w.keep*w.keep)
	var to deviations
	for i, x := range from {
		to[i] = w.keep*x + spread*w.rng.NormFloat64()
	}
	return to
}

// at gives the weather of an instant not before the last one asked for.
func (w *weather) at(now time.Time) outdoors {
	for now.Sub(w.knot) >= time.Hour {
		w.knot = w.knot.Add(time.Hour)
		w.last, w.next = w.next, w.draw(w.next)
	}
	share := float64(now.Sub(w.knot)) / float64(time.Hour)
	var x deviations
	for i := range x {
		x[i] = w.last[i] + share*(w.next[i]-w.last[i])
	}
	return w.climate.weather(now, x)
}

// weather puts season, hour of the day and deviations together. The warmest
// hour is 15:00 local time (common practice, no source), and dew caps the
// vapour: the dew point follows the day's mean and never exceeds the air.
func (c Climate) weather(now time.Time, x deviations) outdoors {
	season := math.Cos(2 * math.Pi * float64(now.YearDay()-c.ColdestDay) / 365.25)
	hour := math.Cos(2 * math.Pi * (timeOfDay(now) - 15*time.Hour).Hours() / 24)
	mean := c.Mean.Add(c.Weather*sensors.Kelvins(x[0]) - c.Season*sensors.Kelvins(season))
	deficit := max(0, c.DewDeficit+c.DewWeather*sensors.Kelvins(x[1]))
	out := outdoors{
		temperature: mean.Add(c.Day * sensors.Kelvins(hour)),
		pressure:    c.Pressure + c.Barometer*sensors.Pascals(x[2]),
	}
	out.dewPoint = min(mean.Add(-deficit), out.temperature)
	return out
}

// humidityRatio is that of the outdoor air, in kg of vapour per kg of dry air.
func (o outdoors) humidityRatio() float64 {
	return air.HumidityRatio(o.dewPoint, 100, o.pressure)
}

// timeOfDay is how far the local day has run.
func timeOfDay(t time.Time) time.Duration {
	h, m, s := t.Clock()
	return time.Duration(h)*time.Hour + time.Duration(m)*time.Minute + time.Duration(s)*time.Second
}
