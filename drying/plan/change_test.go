package plan

import (
	"math"
	"strings"
	"testing"
	"time"

	"recoat/drying"
	"recoat/drying/air"
	"recoat/sensors"
)

// FAO Irrigation and Drainage Paper 56, annex 2, table 2.3 (from memory):
// saturation is at 1.705 kPa at 15 °C and 2.338 kPa at 20 °C.
func TestWarmedAirKeepsItsWater(t *testing.T) {
	got := Change{RaiseAir: 5}.apply(room(15, 80), 0.5)
	if want := 80 * 1.705 / 2.338; math.Abs(float64(got.Humidity)-want) > 0.05 || got.Air != 20 || got.Surface != 17.5 {
		t.Errorf("80 %% at 15 °C became %+v, want %.2f %% at 20 °C", got, want)
	}
	before, after := air.DewPoint(15, 80), air.DewPoint(got.Air, got.Humidity)
	if math.Abs(float64(before-after)) > 1e-6 {
		t.Errorf("the dew point moved from %v to %v", before, after)
	}
}

func TestWhatAChangeLeavesAlone(t *testing.T) {
	c := room(18, 40)
	c.AirSpeed = 0.4
	for name, change := range map[string]Change{"nothing": {}, "drier already": {HoldHumidity: 45}, "moving already": {MoveAir: 0.3}} {
		if got := change.apply(c, 1); got != c {
			t.Errorf("%s: %+v became %+v", name, c, got)
		}
	}
	if got := (Change{HoldHumidity: 45}).apply(room(18, 70), 1); got.Humidity != 45 || got.Air != 18 {
		t.Errorf("held at 45 %%: %+v", got)
	}
}

// A board of 18 mm has taken on half of a rise after 10 minutes and nine tenths
// after 40, as the page of the drying model says.
func TestAPieceWarmsAfterTheAir(t *testing.T) {
	warmed, err := warming(20*time.Minute, 4)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(warmed[0]-0.5) > 0.05 || warmed[1] < 0.8 || warmed[2] < 0.9 || warmed[3] >= 1 {
		t.Errorf("after 10, 30, 50 and 70 minutes it has taken on %.2f", warmed)
	}
}

// With the piece warmed through and the dew point as it was, no stage comes
// later for a degree more, by the model as it stands: a member that takes the
// model to be wrong may be later, since warmth also makes the model surer.
func TestWarmerIsNeverLater(t *testing.T) {
	e := weather(t, 40, 16, 60)
	for _, product := range []drying.Product{colour(), oil()} {
		product.Limits.AirMax = 45
		last := make([]time.Duration, e.Members())
		for raise := sensors.Kelvins(0); raise <= 8; raise++ {
			p := planner(t, Setup{Ensemble: e, Coats: coats(product), Change: Change{RaiseAir: raise}})
			clear(p.coats[0].off)
			for m := range e.Members() {
				done := p.run(m, 6*time.Hour, never).ready[0]
				if raise > 0 && done > last[m] {
					t.Fatalf("%s, member %d: with %v K it is ready %v after noon, with one less %v", product.Name, m, raise, done, last[m])
				}
				last[m] = done
			}
		}
	}
}

func TestWhatChangesSave(t *testing.T) {
	p := planner(t, Setup{Ensemble: weather(t, 60, 16, 68), Coats: coats(colour(), colour()), Hours: allDay()})
	before := p.Chain(noon)
	saved := map[string]time.Duration{}
	for name, c := range map[string]Change{
		"nothing": {}, "warm": {RaiseAir: 4}, "warmer": {RaiseAir: 6}, "dry": {HoldHumidity: 45},
		"moved": {MoveAir: 0.5}, "thin": {Film: 80}, "thick": {Film: 130},
	} {
		w, err := p.WhatIf(c, before)
		if err != nil {
			t.Fatal(err)
		}
		if w.Compared != 1 || !w.Comparable() {
			t.Errorf("%s: %v of the members were compared", name, w.Compared)
		}
		saved[name] = w.Saved
	}
	for _, name := range []string{"warm", "dry", "moved", "thin"} {
		if saved[name] < 5*time.Minute {
			t.Errorf("%s saves %v", name, saved[name])
		}
	}
	if saved["nothing"] != 0 || saved["thick"] >= 0 || saved["warmer"] <= saved["warm"] {
		t.Errorf("saved: %v", saved)
	}
	if _, err := p.WhatIf(Change{RaiseAir: 99}, before); err == nil {
		t.Error("an oven was planned")
	}
}

// In a room that is too damp, drying the air turns wait into go.
func TestADryRoomTurnsWaitIntoGo(t *testing.T) {
	e := courses(t, 20, func(int, time.Duration) drying.Conditions { return room(20, 90) })
	p := planner(t, Setup{Ensemble: e, Coats: coats(colour())})
	w, err := p.WhatIf(Change{HoldHumidity: 50}, p.Chain(noon))
	if err != nil {
		t.Fatal(err)
	}
	if p.Verdict(noon).Go() || !w.Verdict.Go() {
		t.Errorf("before %v, after %v", p.Verdict(noon).Chance, w.Verdict.Chance)
	}
	if w.Compared != 0 || w.Comparable() || w.Saved != 0 {
		t.Errorf("saved %v of %v: without the change nothing is ever done", w.Saved, w.Compared)
	}
}

func TestHeatersComeWithTheirCautions(t *testing.T) {
	all := strings.Join(Change{RaiseAir: 4}.Cautions(), " ")
	for _, want := range []string{"No flame", "glowing heater", "solvent vapour", "label and local rules come first"} {
		if !strings.Contains(all, want) {
			t.Errorf("no %q in: %s", want, all)
		}
	}
	if n := len(Change{}.Cautions()); n != 0 {
		t.Errorf("no change, yet %d cautions", n)
	}
}

// A delivery that cannot be kept costs the most: every start is tried.
func BenchmarkNoDelivery(b *testing.B) {
	e := courses(b, 200, func(_ int, since time.Duration) drying.Conditions {
		if since%(12*time.Hour) < 6*time.Hour {
			return room(4, 50)
		}
		return room(23, 50)
	})
	slow := oil()
	slow.Stated.Times[drying.Handle] = 72 * time.Hour
	for b.Loop() {
		p := planner(b, Setup{Ensemble: e, Coats: coats(oil(), slow), Hours: UsualHours(time.UTC)})
		if p.LatestStart(noon, noon.Add(5*24*time.Hour)).Feasible() {
			b.Fatal("it can be kept")
		}
	}
}

// All that a page of the plan needs: go or wait, the next good hour, a chain of
// three coats, a delivery and four changes.
func BenchmarkPage(b *testing.B) {
	e := weather(b, 200, 18, 62)
	for b.Loop() {
		p := planner(b, Setup{Ensemble: e, Coats: coats(oil(), colour(), colour()), Hours: UsualHours(time.UTC)})
		p.Verdict(noon)
		p.NextGood(noon)
		chain := p.Chain(noon)
		p.LatestStart(noon, noon.Add(5*24*time.Hour))
		for _, c := range []Change{{RaiseAir: 4}, {HoldHumidity: 45}, {MoveAir: 0.5}, {Film: 80}} {
			if _, err := p.WhatIf(c, chain); err != nil {
				b.Fatal(err)
			}
		}
	}
}
