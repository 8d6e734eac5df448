package surface_test

import (
	"math"
	"testing"
	"time"

	"recoat/drying/surface"
	"recoat/drying/wood"
	"recoat/sensors"
)

var start = time.Date(2026, 1, 10, 18, 0, 0, 0, time.UTC)

func newEstimator(t *testing.T, mm float64, at sensors.Celsius) *surface.Estimator {
	t.Helper()
	e, err := surface.New(wood.Typical(mm/1000), at, start)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// A board at 5 °C is carried into a room at 20 °C: the surface follows the
// exact series, whatever the steps in which the air is read.
func TestSurfaceFollowsTheSeries(t *testing.T) {
	b := wood.Typical(0.025)
	for _, step := range []time.Duration{time.Minute, 7 * time.Minute, time.Hour} {
		e := newEstimator(t, 25, 5)
		e.Advance(start, 20)
		if at, _ := e.Surface(); at != 5 {
			t.Errorf("at once the surface is %v °C, want 5 °C", at)
		}
		for passed := step; passed <= 4*time.Hour; passed += step {
			e.Advance(start.Add(passed), 20)
			got, _ := e.Surface()
			if want := 20 - 15*b.Lag(passed); math.Abs(float64(got)-want) > 0.1 {
				t.Fatalf("after %v in steps of %v: %.2f °C, want %.2f °C", passed, step, got, want)
			}
		}
	}
}

// The worked example of a 25 mm top brought from 5 °C into 20 °C, 50 %: it
// passes the dew point (9.27 °C) and 3 K more after about 12 minutes.
func TestColdTopPassesTheDewPoint(t *testing.T) {
	e := newEstimator(t, 25, 5)
	e.Advance(start, 20)
	passed := time.Duration(0)
	for ; passed < time.Hour; passed += 10 * time.Second {
		e.Advance(start.Add(passed), 20)
		if at, _ := e.Surface(); at >= 9.27+3 {
			break
		}
	}
	if m := passed.Minutes(); m < 11 || m > 13.5 {
		t.Errorf("3 K above the dew point after %.1f minutes, want about 12", m)
	}
}

func TestSurfaceUncertainty(t *testing.T) {
	e := newEstimator(t, 70, 5)
	e.Advance(start, 20)
	_, fresh := e.Surface()
	e.Advance(start.Add(20*time.Hour), 20)
	at, settled := e.Surface()
	if math.Abs(float64(at)-20) > 0.01 || settled < 0.99 || settled > 1.01 {
		t.Errorf("long in the room: %v ± %v, want 20 ± 1", at, settled)
	}
	if fresh < 4 {
		t.Errorf("just brought in: ± %v K, want much more than when settled", fresh)
	}
}

func TestAdvancePassesOverNonsense(t *testing.T) {
	e := newEstimator(t, 18, 20)
	e.Advance(start.Add(time.Hour), 22)
	before, _ := e.Surface()
	e.Advance(start, 50)
	e.Advance(start.Add(2*time.Hour), sensors.Celsius(math.NaN()))
	if after, _ := e.Surface(); after != before {
		t.Errorf("an old reading and one that is no number moved the surface from %v to %v", before, after)
	}
}

func TestNewRefuses(t *testing.T) {
	if _, err := surface.New(wood.Typical(0), 20, start); err == nil {
		t.Error("a board without thickness was taken")
	}
	if _, err := surface.New(wood.Typical(0.02), sensors.Celsius(math.Inf(1)), start); err == nil {
		t.Error("an endless temperature was taken")
	}
}
