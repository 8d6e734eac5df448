package surface_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"recoat/drying/surface"
	"recoat/drying/wood"
	"recoat/sensors"
)

// shop is the air of a room that is warmed by day: 12 °C at night, 20 °C from
// seven to seven.
func shop(after time.Duration) sensors.Celsius {
	if h := (after + 18*time.Hour) % (24 * time.Hour); h >= 7*time.Hour && h < 19*time.Hour {
		return 20
	}
	return 12
}

func newLearner(t *testing.T, mm float64) *surface.Learner {
	t.Helper()
	l, err := surface.NewLearner(wood.Typical(mm/1000), shop(0), start)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// taught is a learner of a board said to be 20 mm thick beside a probe on one
// that is mm thick and stays off the air's temperature, for some days, and what
// that board does after the probe has fallen silent.
func taught(t *testing.T, mm float64, off sensors.Kelvins, days int) (l *surface.Learner, truth *surface.Estimator) {
	t.Helper()
	l, truth = newLearner(t, 20), newEstimator(t, mm, shop(0))
	noise := rand.New(rand.NewPCG(1, 2))
	for passed := time.Duration(0); passed < time.Duration(days)*24*time.Hour; passed += time.Minute {
		at, air := start.Add(passed), shop(passed)
		truth.Advance(at, air)
		l.Advance(at, air)
		real, _ := truth.Surface()
		l.Teach(real.Add(off + sensors.Kelvins(0.1*noise.NormFloat64())))
	}
	return l, truth
}

// A board twice as thick as was written down, at a cold wall: after two days
// beside a probe the learner meets it through the steepest hours of the third
// within half a kelvin, where the figures alone are off by kelvins. It says of
// itself how far off it may be.
func TestAProbeTeachesTheBoard(t *testing.T) {
	for _, c := range []struct {
		mm  float64
		off sensors.Kelvins
	}{{20, 0}, {40, -1.5}, {12, 0.8}, {30, -0.7}} {
		l, truth := taught(t, c.mm, c.off, 2)
		plain := newEstimator(t, 20, shop(0))
		worst, worstPlain, beyond, asked := 0.0, 0.0, 0, 0
		for passed := time.Duration(0); passed < 3*24*time.Hour; passed += time.Minute {
			at, air := start.Add(passed), shop(passed)
			plain.Advance(at, air)
			if passed < 2*24*time.Hour {
				continue
			}
			truth.Advance(at, air)
			l.Advance(at, air)
			want, _ := truth.Surface()
			got, sigma := l.Surface()
			naive, _ := plain.Surface()
			miss := math.Abs(float64(got.Sub(want.Add(c.off))))
			worst = max(worst, miss)
			worstPlain = max(worstPlain, math.Abs(float64(naive.Sub(want.Add(c.off)))))
			asked++
			if miss > 2*float64(sigma) {
				beyond++
			}
		}
		t.Logf("%v mm, %+v K: off by at most %.2f K, without the probe %.2f K", c.mm, c.off, worst, worstPlain)
		if worst > 0.5 {
			t.Errorf("%v mm, %+v K: off by %.2f K after the probe taught it", c.mm, c.off, worst)
		}
		if c.mm != 20 && worstPlain < 3*worst {
			t.Errorf("%v mm, %+v K: without the probe off by %.2f K only, with it %.2f K", c.mm, c.off, worstPlain, worst)
		}
		if beyond > asked/20 {
			t.Errorf("%v mm: beyond twice what it said of itself in %d of %d minutes", c.mm, beyond, asked)
		}
	}
}

// Untaught it is the board as described, to the bit.
func TestAnUntaughtLearnerIsAnEstimator(t *testing.T) {
	l, e := newLearner(t, 25), newEstimator(t, 25, shop(0))
	for passed := time.Duration(0); passed < 30*time.Hour; passed += 7 * time.Minute {
		l.Advance(start.Add(passed), shop(passed))
		e.Advance(start.Add(passed), shop(passed))
		gotT, gotS := l.Surface()
		wantT, wantS := e.Surface()
		if gotT != wantT || gotS != wantS {
			t.Fatalf("after %v: %v ± %v, the estimator says %v ± %v", passed, gotT, gotS, wantT, wantS)
		}
	}
}

// What was taught is forgotten with time, and the uncertainty grows.
func TestWhatAProbeTaughtFades(t *testing.T) {
	l, _ := taught(t, 30, -1, 2)
	_, fresh := l.Surface()
	for passed := 48 * time.Hour; passed < 30*24*time.Hour; passed += time.Hour {
		l.Advance(start.Add(passed), 12)
	}
	_, old := l.Surface()
	if fresh > 0.6 || old < 0.9 || old > 1.5 {
		t.Errorf("± %.2f K when fresh, ± %.2f K after a month without a probe", fresh, old)
	}
}

// What cannot be teaches nothing, and neither does what came of a gap; a clone
// goes on by itself.
func TestWhatDoesNotTeach(t *testing.T) {
	l, _ := taught(t, 30, 0, 1)
	before, _ := l.Surface()
	again := l.Clone()
	for _, v := range []sensors.Celsius{85, -60, sensors.Celsius(math.NaN())} {
		l.Teach(v)
	}
	l.Teach(15) // at an instant for which the probe has spoken
	if after, _ := l.Surface(); after != before {
		t.Errorf("nonsense moved the surface from %v to %v", before, after)
	}
	l.Advance(start.Add(40*time.Hour), 12)
	l.Teach(30)
	moved, _ := l.Surface()
	again.Advance(start.Add(40*time.Hour), 12)
	if want, _ := again.Surface(); moved != want {
		t.Errorf("the first reading after a gap of hours moved the surface from %v to %v", want, moved)
	}
}

// A day of minutes beside a probe.
func BenchmarkLearnerDay(b *testing.B) {
	for b.Loop() {
		l, err := surface.NewLearner(wood.Typical(0.02), 12, start)
		if err != nil {
			b.Fatal(err)
		}
		for passed := time.Duration(0); passed < 24*time.Hour; passed += time.Minute {
			l.Advance(start.Add(passed), shop(passed))
			l.Teach(15)
		}
	}
}
