package room

import (
	"math"
	"recoat/drying/air"
	"recoat/drying/forecast"
	"recoat/sensors"
	"testing"
	"time"
)

// Dew points of the air, read off the ASHRAE psychrometric chart no. 1, values
// from memory: 20 °C at 50 % has 9.3 °C, 25 °C at 60 % has 16.7 °C.
func TestTheMarginIsTheSurfaceAboveTheDewPoint(t *testing.T) {
	for _, c := range []struct{ air, rh, surface, want float64 }{
		{20, 50, 14, 4.7},
		{25, 60, 15, -1.7},
	} {
		w := newRoom()
		w.hear(0, ours("bench", 0, warm(c.air), damp(c.rh), surfaceAt("p1", c.surface), surfaceAt("p2", c.surface+3)))
		s := w.Snapshot()
		last := s.Margin[len(s.Margin)-1]
		if math.Abs(float64(s.Surfaces[0].Margin)-c.want) > 0.1 || math.Abs(float64(last.Margin)-c.want) > 0.1 {
			t.Errorf("%v: the surface is %.2f K above, the band %.2f K", c, s.Surfaces[0].Margin, last.Margin)
		}
		if s.Surfaces[0].Sigma <= 0 {
			t.Errorf("%v: no uncertainty", c)
		}
	}
}

func TestMarginsReachBackAndAheadAndShowGaps(t *testing.T) {
	w := newRoom()
	w.minutely(0, 2*time.Hour, warm(20), damp(50))
	w.minutely(4*time.Hour, 5*time.Hour, warm(20), damp(50))
	now := 5 * time.Hour
	w.tick(now)
	var known, gaps, ahead int
	points := w.Snapshot().Margin
	for i, p := range points {
		off := p.At.Sub(evening)
		switch {
		case i > 0 && !p.At.After(points[i-1].At):
			t.Fatalf("point %d is at %s, after one at %s", i, p.At, points[i-1].At)
		case p.Projected:
			ahead++
		case p.Known:
			known++
			if off < 0 || off >= 2*time.Hour && off < 4*time.Hour {
				t.Errorf("a margin of %.1f K is known at %s", p.Margin, off)
			}
		default:
			gaps++
		}
		if p.Known && (p.Low > p.Margin || p.High < p.Margin) {
			t.Errorf("%+v", p)
		}
	}
	if known != 9 || gaps == 0 || ahead != int(marginAhead/forecast.Step) {
		t.Errorf("%d known, %d gaps, %d ahead", known, gaps, ahead)
	}
	first, end := points[0].At.Sub(evening), points[len(points)-1].At.Sub(evening)
	if first < now-marginBack-marginStep || first > now-marginBack || end <= now+marginAhead-forecast.Step || end > now+marginAhead {
		t.Errorf("from %s to %s", first, end)
	}
}

// A step of the band has just begun and holds no reading yet.
func TestTheProjectionDoesNotComeAndGo(t *testing.T) {
	w := newRoom()
	w.minutely(0, 80*time.Minute, warm(20), damp(50))
	for _, now := range []time.Duration{80*time.Minute - time.Second, 80 * time.Minute, 80*time.Minute + 30*time.Second} {
		w.tick(now)
		points := w.Snapshot().Margin
		if last := points[len(points)-1]; !last.Projected || math.Abs(float64(last.Margin)-10.7) > 0.1 {
			t.Errorf("at %s the band ends with %+v", now, last)
		}
	}
	w.tick(2 * time.Hour)
	points := w.Snapshot().Margin
	if last := points[len(points)-1]; last.Projected {
		t.Errorf("from a reading of long ago is projected %+v", last)
	}
}

// A young room is let to stray as far as is guessed, further the longer.
func TestAYoungRoomMayStrayFurtherTheLonger(t *testing.T) {
	w := newRoom()
	w.minutely(0, time.Hour, warm(20), damp(50))
	near, later, latest := ahead(t, w, marginStep), ahead(t, w, 4*time.Hour), ahead(t, w, marginAhead)
	if a, b, c := near.High-near.Low, later.High-later.Low, latest.High-latest.Low; a <= 0 || b <= a || c <= b {
		t.Errorf("%.2f, %.2f, %.2f K", a, b, c)
	}
}

// A room that has swung with the hour of the day for days is expected to go on.
// Air at a steady 50 % has a dew point that follows it by a little less, so the
// margin swings with it.
func TestADailySwingIsExpectedToGoOn(t *testing.T) {
	const now = 100*24*time.Hour + 59*time.Minute
	swing := func(d time.Duration) float64 { return 3 * math.Sin(2*math.Pi*d.Hours()/24) }
	w := newRoom()
	for d := now - 6*24*time.Hour; d <= now; d += 5 * time.Minute {
		w.do(Recalled{ours("bench", d, warm(20+swing(d)), damp(50))})
	}
	w.do(Tick{at(now)})
	for _, far := range []time.Duration{6 * time.Hour, 12 * time.Hour, 24 * time.Hour} {
		p := ahead(t, w, far)
		temperature := sensors.Celsius(20 + swing(p.At.Sub(evening)))
		truth := temperature.Sub(air.DewPoint(temperature, 50))
		if math.Abs(float64(p.Margin-truth)) > 0.15 || p.Low > truth || p.High < truth || p.High-p.Low > 1 {
			t.Errorf("%s ahead: %.2f K (%.2f to %.2f), it will be %.2f K", far, p.Margin, p.Low, p.High, truth)
		}
	}
}

// ahead returns the projected point nearest to so far ahead.
func ahead(t *testing.T, w *workshop, far time.Duration) MarginPoint {
	t.Helper()
	s := w.Snapshot()
	best := MarginPoint{}
	for _, p := range s.Margin {
		if p.Projected && (best.At.IsZero() || p.At.Sub(s.At.Add(far)).Abs() < best.At.Sub(s.At.Add(far)).Abs()) {
			best = p
		}
	}
	if best.At.IsZero() || best.At.Sub(s.At.Add(far)).Abs() > forecast.Step {
		t.Fatalf("nothing is projected for %s ahead", far)
	}
	return best
}
