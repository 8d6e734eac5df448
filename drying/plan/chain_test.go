package plan

import (
	"testing"
	"time"

	"recoat/drying"
)

// Coats after the first go on, and sanding begins and ends, in working hours.
func TestNightsAreRespected(t *testing.T) {
	hours := UsualHours(time.UTC)
	work := 45 * time.Minute
	chain := coats(colour(), colour(), oil(), colour())
	for i := range chain {
		chain[i].Work = work
	}
	p := planner(t, Setup{Ensemble: weather(t, 100, 19, 60), Coats: chain, Hours: hours})
	waited := 0
	for m := range p.members() {
		r := p.run(m, p.since(noon.Add(5*time.Hour)), never)
		for i := 1; i < len(chain); i++ {
			on, ready := p.start.Add(r.on[i]), p.start.Add(r.ready[i-1])
			if h := on.Hour(); h < 7 || h >= 21 {
				t.Fatalf("member %d: coat %d goes on at %v", m, i+1, on)
			}
			if on.Before(ready.Add(work)) {
				t.Fatalf("member %d: coat %d goes on at %v, the one before is ready at %v and sanding takes %v", m, i+1, on, ready, work)
			}
			if on.Sub(ready) > 9*time.Hour {
				waited++
			}
		}
	}
	if waited == 0 {
		t.Error("no coat had to wait for the morning: the test shows nothing")
	}
}

// A coat waits for a room that is fit for it.
func TestACoatWaitsForAFitRoom(t *testing.T) {
	e := courses(t, 1, func(_ int, since time.Duration) drying.Conditions {
		if since >= 90*time.Minute && since < 8*time.Hour {
			return room(23, 92)
		}
		return room(23, 50)
	})
	short := colour()
	short.Stated.Times[drying.TackFree], short.Stated.Times[drying.DryToRecoat] = 30*time.Minute, time.Hour
	chain := planner(t, Setup{Ensemble: e, Coats: []Coat{
		{Product: short, Waits: []drying.Stage{drying.DryToRecoat}, Work: time.Hour}, {Product: short, Waits: []drying.Stage{drying.DryToRecoat}},
	}}).Chain(noon)
	near(t, "second coat", chain.Coats[1].Start.Likely, noon.Add(8*time.Hour), 0)
}

func TestWorkingHours(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	h := Hours{From: 8 * time.Hour, To: 20*time.Hour + 30*time.Minute, Location: berlin}
	at := func(day, hour, minute int) time.Time { return time.Date(2026, 3, day, hour, minute, 0, 0, berlin) }
	for _, c := range []struct{ from, want time.Time }{
		{at(27, 9, 1), at(27, 9, 1)},
		{at(27, 3, 0), at(27, 8, 0)},
		{at(27, 20, 29), at(27, 20, 29)},
		{at(27, 20, 30), at(28, 8, 0)},
		{at(28, 22, 0), at(29, 8, 0)}, // the clocks go forward in that night
		{at(31, 23, 0), time.Date(2026, 4, 1, 8, 0, 0, 0, berlin)},
	} {
		if got := h.Next(c.from.UTC()); !got.Equal(c.want) {
			t.Errorf("after %v comes %v, want %v", c.from, got, c.want)
		}
	}
	if got := h.Next(at(28, 22, 0)).Sub(at(28, 22, 0)); got != 9*time.Hour {
		t.Errorf("that night takes %v, want 9h: one hour is left out (Directive 2000/84/EC, from memory)", got)
	}
}

func TestTheLatestStart(t *testing.T) {
	still := room(23, 50)
	e := courses(t, 1, func(int, time.Duration) drying.Conditions { return still })
	p := planner(t, Setup{Ensemble: e, Coats: coats(colour(), colour()), Hours: UsualHours(time.UTC)})
	// Two hours to the second coat and twelve to handle it. By six in the evening
	// the second would have to be on by six in the morning, so on the evening
	// before, before nine: the first at half past six.
	by := noon.Add(30 * time.Hour)
	d := p.LatestStart(noon, by)
	near(t, "latest start", d.Start, noon.Add(6*time.Hour+30*time.Minute), 0)
	if !d.Feasible() || d.Chance != 1 {
		t.Errorf("%+v", d)
	}
}

func TestADeliveryThatCannotBeKept(t *testing.T) {
	p := planner(t, Setup{Ensemble: weather(t, 60, 20, 55), Coats: coats(colour(), colour()), Hours: UsualHours(time.UTC)})
	for name, by := range map[string]time.Time{"too soon": noon.Add(3 * time.Hour), "now": noon, "past": noon.Add(-time.Hour)} {
		if d := p.LatestStart(noon, by); d.Feasible() || d.Chance != 0 || !d.Best.IsZero() {
			t.Errorf("%s: %+v", name, d)
		}
	}
	// Fourteen hours by the label, and a room that is a little slow.
	if d := p.LatestStart(noon, noon.Add(15*time.Hour)); d.Feasible() || !(d.Chance > 0 && d.Chance < GoodChance) || !d.Best.Equal(noon) {
		t.Errorf("fifteen hours: %+v", d)
	}
	if d := p.LatestStart(noon, noon.Add(72*time.Hour)); !d.Feasible() || d.Chance < GoodChance || !d.Start.After(noon) {
		t.Errorf("three days: %+v", d)
	}
}

// A coat that has waited longer than its label's window has to be abraded.
func TestAClosedWindowIsTold(t *testing.T) {
	still := room(23, 50)
	e := courses(t, 1, func(int, time.Duration) drying.Conditions { return still })
	for by, want := range map[time.Duration]float64{0: 0, 4 * time.Hour: 1, 30 * time.Hour: 0} {
		product := colour()
		product.Stated.RecoatBy = by
		p := planner(t, Setup{Ensemble: e, Coats: coats(product, product), Hours: UsualHours(time.UTC)})
		// On at eight in the evening, ready at ten, the next at seven.
		chain := p.Chain(noon.Add(8 * time.Hour))
		if got := chain.Coats[0].Abrade; got != want || chain.Coats[1].Abrade != 0 {
			t.Errorf("a window of %v and eleven hours: %v", by, got)
		}
	}
}

// A schedule may ask for more than a stage: for times as long, for a rest in any
// case, and for another part.
func TestACoatWaitsForWhatItsScheduleAsksBesides(t *testing.T) {
	still := room(23, 50) // by the label, two hours to the next coat
	e := courses(t, 1, func(int, time.Duration) drying.Conditions { return still })
	for name, c := range map[string]struct {
		change func(first, second *Coat)
		want   time.Duration // until the second coat
	}{
		"a stage":                   {func(_, _ *Coat) {}, 2 * time.Hour},
		"three times as long":       {func(first, _ *Coat) { first.Times = 3 }, 6 * time.Hour},
		"a rest":                    {func(first, _ *Coat) { first.Least = 5 * time.Hour }, 5 * time.Hour},
		"a shorter rest":            {func(first, _ *Coat) { first.Least = time.Hour }, 2 * time.Hour},
		"another part":              {func(_, second *Coat) { second.NotBefore = noon.Add(7 * time.Hour) }, 7 * time.Hour},
		"another part, long ready":  {func(_, second *Coat) { second.NotBefore = noon.Add(-7 * time.Hour) }, 2 * time.Hour},
		"another part, in a season": {func(_, second *Coat) { second.NotBefore = noon.AddDate(0, 3, 0) }, 92 * 24 * time.Hour},
	} {
		all := coats(colour(), colour())
		c.change(&all[0], &all[1])
		chain := planner(t, Setup{Ensemble: e, Coats: all}).Chain(noon)
		near(t, name, chain.Coats[1].Start.Likely, noon.Add(c.want), 0)
	}
	odd := coats(colour())
	odd[0].Times = 99
	if _, err := New(Setup{Ensemble: e, Coats: odd, Hours: allDay()}); err == nil {
		t.Error("99 times as long was planned")
	}
}
