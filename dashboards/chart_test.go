package dashboards

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/drying"
	"recoat/internal/room"
	"recoat/sensors"
)

func airAt(minutes ...int) []Point {
	var out []Point
	for _, m := range minutes {
		c := sensors.Celsius(20)
		out = append(out, Point{At: evening.Add(time.Duration(m) * time.Minute), Air: &c})
	}
	return out
}

// over is a chart of points from the evening on.
func over(points []Point, length time.Duration) charted {
	return charted{points: points, limits: drying.DefaultLimits(), window: window{from: evening, to: evening.Add(length)}}
}

func TestChartDrawsNoLineAcrossAGap(t *testing.T) {
	v := shopWords.chart(over(withGaps(airAt(0, 10, 20, 90, 100)), 2*time.Hour))
	air := v.Panels[0].Lines[0]
	if strings.Count(air.Path, "M") != 2 {
		t.Errorf("path %q", air.Path)
	}
	if dew := v.Panels[0].Lines[1]; dew.Path != "" {
		t.Errorf("a dew point that was not measured is drawn: %q", dew.Path)
	}
	if shopWords.chart(over(nil, time.Hour)) != nil {
		t.Error("a chart of nothing")
	}
}

func TestSurfacesAreCalledByTheirLabels(t *testing.T) {
	points := []Point{{At: evening, Surfaces: map[string]sensors.Celsius{"28-a": 1, "28-b": 2, "28-c": 3, "28-d": 4, "": 5}}}
	got := named(points, []room.SurfaceNow{
		{Probe: "28-a", Label: "Press, top"}, {Probe: "28-b", Label: "Press, side"}, {Probe: "28-c", Label: "Press, side"},
	})
	want := map[string]sensors.Celsius{"Press, top": 1, "Press, side (28-b)": 2, "Press, side (28-c)": 3, "28-d": 4, "surface": 5}
	if diff := cmp.Diff(want, got[0].Surfaces); diff != "" {
		t.Error(diff)
	}
	if _, renamed := points[0].Surfaces["Press, top"]; renamed {
		t.Error("the history's own points were changed")
	}
}

func TestNiceScale(t *testing.T) {
	for _, c := range []struct {
		values          []float64
		least           float64
		low, high, step float64
	}{
		{[]float64{20, 20}, 6, 16, 24, 2},
		{[]float64{11, 19}, 6, 10, 20, 2},
		{[]float64{-3, 30}, 6, -10, 30, 10},
		{[]float64{math.NaN(), 5}, 4, 3, 7, 1},
		{[]float64{math.NaN()}, 6, 0, 6, 6},
	} {
		low, high, step := niceScale([]series{{values: c.values}}, c.least)
		if low != c.low || high != c.high || step != c.step {
			t.Errorf("%v: %v to %v by %v, want %v to %v by %v", c.values, low, high, step, c.low, c.high, c.step)
		}
	}
}

func TestHumidityScaleEndsAtAHundred(t *testing.T) {
	rh := sensors.RelativeHumidity(99)
	points := []Point{{At: evening, Humidity: &rh}, {At: evening.Add(time.Minute), Humidity: &rh}}
	grid := shopWords.chart(over(points, time.Hour)).Panels[1].Grid
	if last := grid[len(grid)-1]; last.Text != "100" {
		t.Errorf("the scale of humidity ends at %s", last.Text)
	}
}
