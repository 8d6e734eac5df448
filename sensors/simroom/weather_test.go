package simroom

import (
	"math"
	"testing"
	"time"

	"gonum.org/v1/gonum/stat"

	"recoat/sensors"
)

// Four years of weather have the spread and the memory that were asked for:
// the autocorrelation of a Gauss-Markov process is exp(-lag/persistence).
func TestWeatherIsAsAsked(t *testing.T) {
	c := climate()
	w := newWeather(c, start, stream(3, 1))
	var slow, later []float64
	const hours = 4 * 365 * 24
	for h := range hours {
		now := start.Add(time.Duration(h) * time.Hour)
		out := w.at(now)
		if out.dewPoint > out.temperature {
			t.Fatalf("at %v the dew point is %v, above the air's %v", now, out.dewPoint, out.temperature)
		}
		slow = append(slow, float64(out.temperature-c.weather(now, deviations{}).temperature))
	}
	lag := int(c.Persistence.Hours())
	later = slow[lag:]
	near(t, "mean", stat.Mean(slow, nil), 0, 0.6)
	near(t, "spread", stat.StdDev(slow, nil), float64(c.Weather), 0.3)
	near(t, "memory", stat.Correlation(slow[:len(later)], later, nil), math.Exp(-1), 0.1)
}

func TestSeasonAndDay(t *testing.T) {
	c := Climate{Mean: 10, Season: 7, ColdestDay: 20, Day: 4, DewDeficit: 3, Pressure: sensors.StandardPressure}
	for _, row := range []struct {
		at   time.Time
		want float64
	}{
		{time.Date(2026, 1, 20, 3, 0, 0, 0, time.UTC), -1},
		{time.Date(2026, 1, 20, 15, 0, 0, 0, time.UTC), 7},
		{time.Date(2026, 7, 21, 15, 0, 0, 0, time.UTC), 21},
		{time.Date(2026, 7, 21, 9, 0, 0, 0, time.UTC), 17},
	} {
		out := c.weather(row.at, deviations{})
		near(t, row.at.String(), float64(out.temperature), row.want, 0.01)
	}
	night := c.weather(time.Date(2026, 1, 20, 3, 0, 0, 0, time.UTC), deviations{})
	near(t, "dew point capped by a cold night", float64(night.dewPoint), -1, 0.01)
}
