package room

import (
	"testing"
	"time"

	"recoat/drying"
	"recoat/sensors"
)

func TestTheVerdictIsUnknownWhileNothingRecentIsGood(t *testing.T) {
	w := newRoom()
	w.tick(0)
	if s := w.Snapshot(); s.Verdict.State != drying.Unknown || s.Air != nil {
		t.Errorf("a room nobody measures is %v", s.Verdict.State)
	}
	w.hear(0, ours("bench", 0, warm(21), damp(45), surfaceAt("p1", 20)))
	if s := w.Snapshot(); s.Verdict.State != drying.Fit || len(s.Verdict.Reasons) == 0 {
		t.Errorf("a warm, dry room is %+v", s.Verdict)
	}
	w.tick(readingLife)
	if s := w.Snapshot(); s.Verdict.State != drying.Fit {
		t.Errorf("after %s it is %v", readingLife, s.Verdict.State)
	}
	w.tick(readingLife + time.Minute)
	if s := w.Snapshot(); s.Verdict.State != drying.Unknown || s.Air != nil || len(s.Surfaces) != 0 {
		t.Errorf("after more than %s it is %+v", readingLife, s)
	}
}

// What is not good is as if it had not been measured, for the present, the
// verdict and the coats alike.
func TestOnlyGoodReadingsCount(t *testing.T) {
	run := func(bad ...sensors.Reading) *workshop {
		w := newRoom()
		w.follow(job(t, "c-0001", 0, "p1"))
		w.minutely(0, 10*time.Minute, warm(20), damp(50), surfaceAt("p1", 18))
		w.minutely(10*time.Minute, 40*time.Minute, bad...)
		w.tick(40 * time.Minute)
		return w
	}
	want := run().Snapshot()
	for _, q := range []sensors.Quality{sensors.Suspect, sensors.Held, sensors.Uncalibrated, sensors.Missing} {
		got := run(as(q, warm(-5)), as(q, damp(99)), as(q, surfaceAt("p1", -9))).Snapshot()
		if got.Air != nil || got.Verdict.State != drying.Unknown || len(got.Surfaces) != 0 {
			t.Errorf("%s readings are the present: %+v", q, got)
		}
		a, _ := find(got.Coats[0].Estimates, drying.DryToRecoat)
		b, _ := find(want.Coats[0].Estimates, drying.DryToRecoat)
		if a.Done != b.Done || a.Uncovered != b.Uncovered || !a.Likely.Equal(b.Likely) {
			t.Errorf("%s readings count for the coat: %+v, without them %+v", q, a, b)
		}
		n := got.Nodes[0]
		if marked := len(n.Suspect) + len(n.Missing); marked != 3 || (q == sensors.Missing) != (len(n.Missing) == 3) {
			t.Errorf("%s: the node shows %v missing, %v suspect", q, n.Missing, n.Suspect)
		}
	}
}

func TestOfTwoNodesTheFirstByNameSpeaksAndTheOtherTakesOver(t *testing.T) {
	w := newRoom()
	w.hear(0, ours("loft", 0, warm(25), damp(30), surfaceAt("p1", 24), surfaceAt("p2", 11)))
	w.hear(time.Second, ours("bench", time.Second, warm(20), damp(50), surfaceAt("p1", 19)))
	s := w.Snapshot()
	if s.Air.Air != 20 || s.Air.Humidity != 50 {
		t.Errorf("bench has the word, and the air is %+v", s.Air)
	}
	if len(s.Surfaces) != 2 || s.Surfaces[0].Surface != 19 || s.Surfaces[1].Surface != 11 {
		t.Errorf("the surfaces are %+v", s.Surfaces)
	}
	// Bench's humidity fails: its temperature must not be taken with the other
	// place's humidity, which would be the dew point of neither.
	w.hear(time.Minute, ours("bench", time.Minute, warm(20), as(sensors.Missing, damp(0)), surfaceAt("p1", 19)))
	if s := w.Snapshot(); s.Air.Air != 25 || s.Air.Humidity != 30 {
		t.Errorf("half of bench's air is mixed with loft's: %+v", s.Air)
	}
}

func TestTheHistoryMixesNoTwoPlaces(t *testing.T) {
	chip := func(probe string, t, rh sensors.Reading) []sensors.Reading {
		t.Channel.Probe, rh.Channel.Probe = probe, probe
		return []sensors.Reading{t, rh}
	}
	var h history
	h.add(ours("bench", 0, chip("", warm(20), as(sensors.Suspect, damp(99)))...))
	h.add(ours("bench", 1, chip("1-0045", as(sensors.Missing, warm(0)), damp(60))...))
	if c, ok := h.slots[0].on(""); ok {
		t.Errorf("temperature and humidity of two chips are one air: %+v", c)
	}
	h.add(ours("bench-2", 2, chip("", warm(15), damp(70))...))
	if c, ok := h.slots[0].on(""); !ok || c.Air != 15 || c.Humidity != 70 {
		t.Errorf("the one whole air of the minute is %+v, %v", c, ok)
	}
}

func TestASurfaceWithoutAirIsNotShown(t *testing.T) {
	w := newRoom()
	w.hear(0, ours("bench", 0, as(sensors.Missing, warm(0)), as(sensors.Missing, damp(0)), surfaceAt("p1", 18)))
	if s := w.Snapshot(); len(s.Surfaces) != 0 || s.Verdict.State != drying.Unknown {
		t.Errorf("how far it is from condensation is not known, and shown as %+v", s.Surfaces)
	}
}

func TestTheVerdictIsOfTheColdestSurface(t *testing.T) {
	for name, list := range map[string][]sensors.Reading{
		"named":       {surfaceAt("a", 10), surfaceAt("b", 19)},
		"not named":   {surfaceAt("", 10), surfaceAt("b", 19)},
		"named later": {surfaceAt("a", 19), surfaceAt("b", 10)},
	} {
		w := newRoom()
		w.hear(0, ours("bench", 0, append(list, warm(20), damp(50))...))
		// 20 °C and 50 % have their dew point at 9.3 °C (ASHRAE psychrometric chart
		// no. 1, value from memory), so that 10 °C are too near, and 19 °C are not.
		if s := w.Snapshot(); s.Verdict.State != drying.Unfit {
			t.Errorf("%s: %+v", name, s.Verdict)
		}
		if m := w.Snapshot().Margin; m[len(m)-1].Margin > 1.5 {
			t.Errorf("%s: the margin shown is %.1f K", name, m[len(m)-1].Margin)
		}
	}
}

// Only the monotonic clock says what is recent: the wall clock may be set.
func TestASetWallClockDoesNotAgeReadings(t *testing.T) {
	w := newRoom()
	w.hear(0, ours("bench", 0, warm(20), damp(50)))
	later := at(time.Minute)
	later.Wall = later.Wall.Add(24 * time.Hour)
	w.do(Tick{later})
	if w.Snapshot().Air == nil {
		t.Error("a clock that was set by a day made a reading a day old")
	}
	if len(w.told) != 0 {
		t.Errorf("told %v", w.told)
	}
}
