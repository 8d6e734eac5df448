package room

import (
	"math"
	"reflect"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/drying"
	"recoat/sensors"
)

// scrawl overwrites whatever can be reached through slices and pointers.
func scrawl(v reflect.Value) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			v.Elem().SetZero()
		}
	case reflect.Slice:
		for i := range v.Len() {
			scrawl(v.Index(i))
			v.Index(i).SetZero()
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				scrawl(v.Field(i))
			}
		}
	}
}

func TestASnapshotSharesNothingWithTheRoom(t *testing.T) {
	w := newRoom()
	w.follow(job(t, "c-0001", 0, "p1"), job(t, "c-0002", 0, ""))
	w.minutely(0, 30*time.Minute, warm(20), damp(50), surfaceAt("p1", 18), as(sensors.Suspect, surfaceAt("p2", 1)))
	w.minutely(70*time.Minute, 100*time.Minute, warm(20), damp(97), surfaceAt("p1", 19), as(sensors.Missing, surfaceAt("p2", 0)))
	want := w.Snapshot()
	c := want.Coats[0]
	if want.Air == nil || len(want.Alerts) == 0 || len(c.Cautions) == 0 || len(c.Stalled) == 0 || len(c.Estimates[c.Next].Doubts) == 0 || len(want.Verdict.Reasons) == 0 {
		t.Fatalf("there is too little to share: %+v", want)
	}
	s := w.Snapshot()
	scrawl(reflect.ValueOf(&s).Elem())
	if diff := cmp.Diff(want, w.Snapshot(), courses); diff != "" {
		t.Error(diff)
	}
}

func TestAPartDriesAtItsOwnSurface(t *testing.T) {
	w := newRoom()
	w.follow(job(t, "c-0001", 0, "cold"), job(t, "c-0002", 0, ""), job(t, "c-0003", 0, "silent"))
	w.minutely(0, time.Hour, warm(23), damp(50), surfaceAt("cold", 17))
	w.tick(time.Hour)
	bare, cold := w.estimate(t, "c-0002", drying.DryToRecoat), w.estimate(t, "c-0001", drying.DryToRecoat)
	if math.Abs(bare.Done-0.5) > 1e-6 {
		t.Errorf("after half of the label's time, at its conditions, the coat without a probe is %.4f of the way", bare.Done)
	}
	conditions := drying.Conditions{Air: 23, Humidity: 50, Surface: 17, SurfaceMeasured: true}
	for _, e := range label(t).Expect(conditions, 100) {
		if e.Stage != drying.DryToRecoat {
			continue
		}
		if want := time.Hour.Seconds() / e.Expected.Seconds(); math.Abs(cold.Done-want) > 1e-6 || cold.Done >= bare.Done {
			t.Errorf("on a cold surface it is %.4f of the way, want %.4f", cold.Done, want)
		}
	}
	if silent := w.estimate(t, "c-0003", drying.DryToRecoat); silent.Done != bare.Done {
		t.Errorf("with a probe that says nothing: %.4f, want the air's %.4f", silent.Done, bare.Done)
	}
	s := w.Snapshot()
	if len(s.Surfaces) != 1 || s.Surfaces[0].Label != "Hall table, top" || !s.Surfaces[0].Measured {
		t.Errorf("%+v", s.Surfaces)
	}
}

func TestAGapIsNoProgress(t *testing.T) {
	w := newRoom()
	w.follow(job(t, "c-0001", 0, ""))
	w.minutely(0, 30*time.Minute, warm(23), damp(50))
	w.tick(29*time.Minute + drying.MaxGap) // so long the last reading stands
	stood := w.estimate(t, "c-0001", drying.DryToRecoat)
	w.tick(10 * time.Hour)
	after := w.estimate(t, "c-0001", drying.DryToRecoat)
	if after.Done != stood.Done || after.Reached {
		t.Errorf("in hours without a reading the coat went from %.3f to %.3f", stood.Done, after.Done)
	}
	if want := 10*time.Hour - 29*time.Minute - drying.MaxGap; after.Uncovered != want {
		t.Errorf("%s are not covered, want %s", after.Uncovered, want)
	}
	if len(after.Blocked) == 0 {
		t.Error("nothing says why the clock stands still")
	}
	if len(w.heard("ready")) != 0 {
		t.Errorf("told %v", w.told)
	}
	w.minutely(10*time.Hour, 12*time.Hour, warm(23), damp(50))
	if got := w.heard("ready"); len(got) != 1 {
		t.Errorf("once it dries on: %v", got)
	}
}

func TestWhatTheFinisherWaitsForIsTheNextStageOfTheLabel(t *testing.T) {
	w := newRoom()
	w.follow(job(t, "c-0001", 0, ""))
	w.minutely(0, time.Hour, warm(23), damp(50))
	c := w.Snapshot().Coats[0]
	if c.Next < 0 || c.Estimates[c.Next].Stage != drying.DryToRecoat || c.Pace != c.Estimates[c.Next].Pace || math.Abs(c.Pace-1) > 1e-9 {
		t.Errorf("next is %d at pace %v, want dry to recoat at the label's own pace", c.Next, c.Pace)
	}
	if c.RecoatBy.IsZero() || c.RecoatBy.Before(evening.Add(24*time.Hour)) || c.RecoatBy.After(evening.Add(72*time.Hour)) {
		t.Errorf("a recoat window of 72 h closes at %s", c.RecoatBy)
	}
	w.minutely(time.Hour, 3*time.Hour, warm(23), damp(50))
	c = w.Snapshot().Coats[0]
	if c.Estimates[c.Next].Stage != drying.Handle {
		t.Errorf("after recoating, next is %v", c.Estimates[c.Next].Stage)
	}
	if got := next(nil); got != -1 {
		t.Errorf("of no stages the next is %d", got)
	}
}

// In the first minute nobody has been heard, and nothing is amiss.
func TestARoomThatHasJustStartedSaysSo(t *testing.T) {
	w := newRoom()
	w.tick(0)
	if !w.Snapshot().Starting {
		t.Error("at once it does not say that it has just started")
	}
	w.tick(2 * time.Minute)
	if w.Snapshot().Starting {
		t.Error("after two minutes it still has only just started")
	}
	heard := newRoom()
	heard.hear(0, ours("bench", 0, warm(20), damp(50)))
	if heard.Snapshot().Starting {
		t.Error("a node was heard, and it says that nobody was")
	}
}
