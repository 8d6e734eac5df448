package drying

import (
	"reflect"
	"testing"
	"time"

	"recoat/sensors"
)

// same is an ensemble of members that all have the same conditions throughout.
func same(t *testing.T, c Conditions, members, steps int) *Ensemble {
	t.Helper()
	all := make([][]Conditions, members)
	for i := range all {
		for range steps {
			all[i] = append(all[i], c)
		}
	}
	return ensemble(t, all)
}

func ensemble(t *testing.T, members [][]Conditions) *Ensemble {
	t.Helper()
	e, err := NewEnsemble(noon, 30*time.Minute, members)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// Where all members have the same conditions, what is left is the model's own
// spread: that which Expect gives.
func TestDistributionHasTheModelsSpread(t *testing.T) {
	for _, p := range everyKind() {
		c := room(20, 55)
		got := NewFollower(Coat{Product: p, Applied: noon}).Distribution(noon, same(t, c, 500, 96), 1)
		for i, want := range p.Expect(c, 0) {
			near(t, p.Kind+" p10", seconds(got[i].P10.Sub(noon))/seconds(want.Low), 1, 2e-3)
			near(t, p.Kind+" p50", seconds(got[i].P50.Sub(noon))/seconds(want.Expected), 1, 2e-3)
			near(t, p.Kind+" p90", seconds(got[i].P90.Sub(noon))/seconds(want.High), 1, 2e-3)
			near(t, "chance", got[i].By(noon.Add(want.High)), 0.9, 3e-3)
		}
	}
}

// A single member has the model's middle, and has to come out as if its course
// had been measured minute by minute: half way through, in changing rooms,
// within the ensemble and, with its last day over and over, beyond it.
func TestDistributionIsFollow(t *testing.T) {
	for member, course := range wander(2, 96) {
		e := ensemble(t, [][]Conditions{course})
		for _, p := range everyKind() {
			p.Stated.Times[Cured] = 2 * day
			coat := Coat{Product: p, Applied: noon.Add(-40 * time.Minute), Film: 80}
			past, now := steady(room(20, 55), noon.Add(-2*time.Hour), 130*time.Minute), noon.Add(10*time.Minute)
			f := NewFollower(coat)
			if err := f.Add(past...); err != nil {
				t.Fatal(err)
			}
			got := f.Distribution(now, e, 1)
			for at := now; at.Before(noon.Add(12 * day)); at = at.Add(time.Minute) {
				c, _ := e.Outlook(0)(at)
				past = append(past, Sample{at, c})
			}
			for i, want := range Follow(coat, past, noon.Add(12*day), nil) {
				within(t, p.Kind+" "+want.Stage.String(), got[i].P50, want.Likely, time.Millisecond)
			}
			if member == 0 && !reflect.DeepEqual(got, f.Distribution(now, e, 1)) {
				t.Errorf("%s: the same seed, another answer", p.Kind)
			}
		}
	}
}

// Half of the members too cold: half the chance, and no time for the rest.
func TestDistributionCountsTheCold(t *testing.T) {
	members := make([][]Conditions, 400)
	for i := range members {
		for range 96 {
			members[i] = append(members[i], room([]sensors.Celsius{20, 5}[i%2], 50))
		}
	}
	s := NewFollower(acrylic()).Distribution(noon, ensemble(t, members), 9)[DryToRecoat]
	near(t, "chance", s.By(noon.Add(40*time.Hour)), 0.5, 1e-9)
	if s.P10.IsZero() || !s.P90.IsZero() {
		t.Errorf("got %v to %v, want a first time and no last", s.P10, s.P90)
	}
	if _, ok := s.Quantile(0.45); !ok {
		t.Error("there is no time by which 45 in 100 are ready")
	}
	if s.By(noon) != 0 || s.By(noon.Add(-time.Hour)) != 0 {
		t.Error("ready at once")
	}
}

// More spread in the room, more spread in the time; another seed, nearly the
// same.
func TestDistributionWidens(t *testing.T) {
	f := NewFollower(acrylic())
	calm, wild := same(t, room(19, 52), 500, 96), ensemble(t, wander(500, 96))
	ratio := func(e *Ensemble, seed uint64) (float64, time.Time) {
		s := f.Distribution(noon, e, seed)[Handle]
		return seconds(s.P90.Sub(noon)) / seconds(s.P10.Sub(noon)), s.P50
	}
	a, _ := ratio(calm, 1)
	b, first := ratio(wild, 1)
	c, second := ratio(wild, 2)
	if !(b > a) {
		t.Errorf("P90 over P10: %.3f in the wild, %.3f in the calm", b, a)
	}
	near(t, "another seed", c/b, 1, 0.05)
	within(t, "another seed", first, second, 30*time.Minute)
}

// A stage that was reached stays reached, about when Low, Likely and High say.
func TestDistributionOfThePast(t *testing.T) {
	f, c := NewFollower(acrylic()), room(21, 55)
	if err := f.Add(steady(c, noon, 8*time.Hour)...); err != nil {
		t.Fatal(err)
	}
	now := noon.Add(8 * time.Hour)
	s, e := f.Distribution(now, same(t, c, 500, 96), 4)[DryToRecoat], f.Estimates(now, nil)[DryToRecoat]
	within(t, "low", s.P10, e.Low, time.Minute)
	within(t, "likely", s.P50, e.Likely, time.Minute)
	within(t, "high", s.P90, e.High, time.Minute)
	near(t, "by now", s.By(now), 1, 0.01)
}

// In a gap a coat may have dried on: some members did, and are earlier.
func TestDistributionAllowsForGaps(t *testing.T) {
	c := room(21, 55)
	first := func(samples []Sample) Spread {
		f := NewFollower(acrylic())
		if err := f.Add(samples...); err != nil {
			t.Fatal(err)
		}
		return f.Distribution(noon.Add(70*time.Minute), same(t, c, 500, 96), 4)[DryToRecoat]
	}
	full := first(steady(c, noon, 70*time.Minute))
	gap := first(append(steady(c, noon, 10*time.Minute), steady(c, noon.Add(65*time.Minute), 5*time.Minute)...))
	gone := 65*time.Minute - (9*time.Minute + MaxGap)
	for q, d := range map[string]time.Duration{"p10": gap.P10.Sub(full.P10), "p90": gap.P90.Sub(full.P90)} {
		if d < gone/10 || d > gone*9/10 {
			t.Errorf("%s: %v later than without a gap of %v, want some part of that", q, d, gone)
		}
	}
	within(t, "p50", gap.P50, full.P50.Add(gone/2), gone/6)
}

func TestDistributionRefuses(t *testing.T) {
	for _, s := range NewFollower(Coat{}).Distribution(noon, same(t, room(20, 50), 2, 2), 1) {
		if len(s.Blocked) != 1 || s.By(noon.Add(day)) != 0 || !s.P50.IsZero() {
			t.Errorf("without a product: got %+v", s)
		}
	}
	unknown := NewFollower(acrylic()).Distribution(noon, same(t, Conditions{}, 3, 4), 1)[DryToRecoat]
	if !unknown.P50.IsZero() || unknown.By(noon.Add(100*day)) != 0 {
		t.Errorf("in unknown conditions: got %+v", unknown)
	}
	one := []Conditions{room(20, 50)}
	for _, c := range []struct {
		step    time.Duration
		members [][]Conditions
	}{{time.Hour, nil}, {time.Hour, [][]Conditions{{}}}, {0, [][]Conditions{one}}, {day, [][]Conditions{one}}, {time.Hour, [][]Conditions{one, nil}}, {time.Hour, make([][]Conditions, maxMembers+1)}} {
		if _, err := NewEnsemble(noon, c.step, c.members); err == nil {
			t.Errorf("%d members, step %v: accepted", len(c.members), c.step)
		}
	}
}

func TestEnsembleOutlook(t *testing.T) {
	course := make([]Conditions, 96)
	for i := range course {
		course[i] = room(sensors.Celsius(i), 50)
	}
	e := ensemble(t, [][]Conditions{course})
	for at, want := range map[time.Duration]sensors.Celsius{
		-time.Hour: 0, 0: 0, 29 * time.Minute: 0, 30 * time.Minute: 1, 48*time.Hour - 1: 95,
		48 * time.Hour: 48, 72*time.Hour - 1: 95, 72 * time.Hour: 48, 73 * time.Hour: 50,
	} {
		if c, ok := e.Outlook(0)(noon.Add(at)); !ok || c.Air != want || e.Steps() != 96 || e.Members() != 1 {
			t.Errorf("at %v: got %v, want %v", at, c.Air, want)
		}
	}
}
