package forecast

import (
	"testing"
	"time"
)

// A surface over an air that others share is forecast as by a forecaster of its
// own, to the last digit, and so is air alone, however late the surface is first
// asked about.
func TestASharedAirChangesNoForecast(t *testing.T) {
	t.Parallel()
	samples := made(9*day, swinging)
	air, alone := NewAir(), New(nil)
	var over, own *Forecaster
	for i, s := range samples {
		bare := s
		bare.Surface, bare.SurfaceMeasured = s.Air, false
		air.Add(s)
		alone.Add(bare)
		if over != nil {
			over.Add(s)
			own.Add(s)
		}
		at := s.At.Add(10 * time.Minute)
		if hours := at.Sub(monday) / time.Hour; hours < 4 || at.Sub(monday)%(5*time.Hour) != 0 {
			continue
		}
		o := Options{Members: 50, Seed: 3}
		same(t, mustIssue(t, air, at, o), mustIssue(t, alone, at, o))
		if over == nil && i > len(samples)/2 {
			over, own = air.Over(), New(nil)
			for _, s := range samples[:i+1] {
				over.Add(s)
				own.Add(s)
			}
		}
		if over != nil {
			same(t, mustIssue(t, over, at, o), mustIssue(t, own, at, o))
		}
	}
	if over == nil {
		t.Fatal("no surface was asked about")
	}
}

func same(t *testing.T, got, want *Ensemble) {
	t.Helper()
	for m := range want.Members() {
		for step := range want.Steps() {
			for q := range Quantity(quantityCount) {
				if g, w := got.Value(q, m, step), want.Value(q, m, step); g != w {
					t.Fatalf("at %v, %s of member %d in step %d: %v, want %v", want.At, q, m, step, g, w)
				}
			}
		}
	}
	if got.surfaceMeasured != want.surfaceMeasured {
		t.Fatalf("at %v: a measured surface %t, want %t", want.At, got.surfaceMeasured, want.surfaceMeasured)
	}
}

// Samples of a surface that reach back further than the air's are no forecast.
func TestASurfaceBeforeItsAirIsRefused(t *testing.T) {
	t.Parallel()
	samples := made(day, swinging)
	air := NewAir()
	for _, s := range samples[40:] {
		air.Add(s)
	}
	over := air.Over()
	for _, s := range samples {
		over.Add(s)
	}
	if _, err := over.Issue(monday.Add(day), Options{}); err == nil {
		t.Error("a forecast was made")
	}
}
