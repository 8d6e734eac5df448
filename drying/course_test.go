package drying

import (
	"math"
	"testing"
	"time"

	"recoat/sensors"
)

// A night written by hand: what is counted can be counted on fingers.
func TestCoursesCountWhatIsWrittenDown(t *testing.T) {
	var samples []Sample
	put := func(from, to int, air, surface, rh float64) {
		for m := from; m < to; m += 5 {
			samples = append(samples, Sample{noon.Add(time.Duration(m) * time.Minute), Conditions{
				Air: sensors.Celsius(air), Surface: sensors.Celsius(surface), Humidity: sensors.RelativeHumidity(rh), SurfaceMeasured: true,
			}})
		}
	}
	put(0, 60, 20, 20, 50)
	put(60, 90, 8, 20, 50) // air 2 K too cold for half an hour
	put(90, 100, 20, 20, 50)
	put(100, 110, 9, 20, 50) // and 1 K for ten minutes
	// 110 to 180: nothing, of which the last reading stands for fifteen minutes
	put(180, 240, 9.5, 20, 50)
	spans := []Interval{{noon, noon.Add(4 * time.Hour)}, {noon, noon.Add(time.Hour)}, {noon.Add(-time.Hour), noon.Add(-time.Minute)}}
	all := Courses(samples, DefaultLimits(), Uncertainty{}, spans)
	c := all[0]
	if c.Covered != 180*time.Minute || len(c.Gaps) != 1 || !c.Gaps[0].From.Equal(noon.Add(120*time.Minute)) || !c.Gaps[0].To.Equal(noon.Add(180*time.Minute)) {
		t.Errorf("covered %v, gaps %v", c.Covered, c.Gaps)
	}
	if c.Air.Min != 8 || c.Air.Max != 20 || !c.Air.MinAt.Equal(noon.Add(time.Hour)) || math.Abs(c.Air.Mean-(70*20+30*8+20*9+60*9.5)/180) > 1e-9 {
		t.Errorf("air %+v", c.Air)
	}
	cold := heldTo(t, c, "air-cold")
	if cold.Outside != 110*time.Minute || math.Abs(cold.Excess-(30*2+20*1+60*0.5)) > 1e-9 || cold.Longest != time.Hour || !cold.LongestAt.Equal(noon.Add(3*time.Hour)) || cold.Worst != 8 || cold.Sigma != 0.3 {
		t.Errorf("%+v", cold)
	}
	if all[1].Covered != time.Hour || heldTo(t, all[1], "air-cold").Outside != 0 || heldTo(t, all[1], "air-cold").Worst != 20 {
		t.Errorf("the first hour: %+v", all[1])
	}
	if none := all[2]; none.Covered != 0 || len(none.Gaps) != 1 || !none.Air.MinAt.IsZero() {
		t.Errorf("before anything was measured: %+v", none)
	}
}

// The same conditions judged by the two ways there are to sum them up.
func TestCoursesAgreeWithExposure(t *testing.T) {
	var samples []Sample
	for n := range 2000 {
		x := float64(n)
		samples = append(samples, Sample{noon.Add(time.Duration(n) * time.Minute), Conditions{
			Air: sensors.Celsius(14 + 8*math.Sin(x/90)), Surface: sensors.Celsius(13 + 9*math.Sin(x/95)),
			Humidity: sensors.RelativeHumidity(75 + 20*math.Sin(x/70)), SurfaceMeasured: true,
		}})
	}
	span := Interval{noon.Add(time.Hour), noon.Add(30 * time.Hour)}
	c := Courses(samples, DefaultLimits(), Uncertainty{}, []Interval{span})[0]
	e := Exposure(samples, DefaultLimits(), span.From, span.To)
	if c.Covered != e.Covered || math.Abs(c.DewMargin.Min-float64(e.MinDewMargin)) > 1e-9 || !c.DewMargin.MinAt.Equal(e.MinDewMarginAt) {
		t.Errorf("%v, %v at %v; exposure %v, %v at %v", c.Covered, c.DewMargin.Min, c.DewMargin.MinAt, e.Covered, e.MinDewMargin, e.MinDewMarginAt)
	}
	for i, o := range e.Outside {
		if h := c.Limits[i]; h.Code != o.Code || h.Outside != o.Duration || o.Duration > 0 && math.Abs(h.Worst-o.Worst) > 1e-6 {
			t.Errorf("%s: outside %v, worst %v; exposure %v, %v", h.Code, h.Outside, h.Worst, o.Duration, o.Worst)
		}
	}
}

func heldTo(t *testing.T, c Course, code string) Held {
	t.Helper()
	for _, h := range c.Limits {
		if h.Code == code {
			return h
		}
	}
	t.Fatalf("no limit %s", code)
	return Held{}
}
