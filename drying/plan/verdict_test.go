package plan

import (
	"testing"
	"time"

	"recoat/drying"
	"recoat/sensors"
)

// Half of the members turn too cold while the film is open.
func TestHalfTheMembersBreakALimit(t *testing.T) {
	for name, c := range map[string]struct {
		after drying.Conditions
		code  string
		text  string
	}{
		"cold":  {room(8, 50), "air-cold", "The air is 8.0 °C; at least 10.0 °C is needed"},
		"damp":  {room(23, 90), "humid", "Relative humidity is 90.0 %; at most 85.0 % is allowed"},
		"a dew": {drying.Conditions{Air: 23, Humidity: 60, Surface: 15.2, SurfaceMeasured: true}, "dew-margin", "The dew margin is"},
	} {
		e := courses(t, 40, func(m int, since time.Duration) drying.Conditions {
			if m%2 == 0 && since >= 30*time.Minute {
				return c.after
			}
			return room(23, 50)
		})
		product := colour()
		product.Stated.Times[drying.TackFree] = 2 * time.Hour // no member is that wrong by half an hour
		v := planner(t, Setup{Ensemble: e, Coats: coats(product)}).Verdict(noon)
		if v.Chance != 0.5 || v.Go() || len(v.Fails) != 1 {
			t.Fatalf("%s: chance %v, go %v, fails %v: half the members fail, for one reason", name, v.Chance, v.Go(), v.Fails)
		}
		f := v.Fails[0]
		if f.Code != c.code || f.Chance != 0.5 || len(f.Text) < len(c.text) || f.Text[:len(c.text)] != c.text {
			t.Errorf("%s: it is %q with %v: %s", name, f.Code, f.Chance, f.Text)
		}
		near(t, name+" fails", f.At.Likely, noon.Add(30*time.Minute), 0)
		if v.Free.Likely.Before(noon.Add(time.Hour)) {
			t.Errorf("%s: tack-free at %v", name, v.Free)
		}
	}
}

// A limit that breaks once the film is closed spoils nothing.
func TestOnlyTheOpenFilmCounts(t *testing.T) {
	e := courses(t, 20, func(_ int, since time.Duration) drying.Conditions {
		if since >= 6*time.Hour {
			return room(5, 50)
		}
		return room(23, 50)
	})
	p := planner(t, Setup{Ensemble: e, Coats: coats(colour())})
	if v := p.Verdict(noon); v.Chance != 1 || !v.Go() || len(v.Fails) != 0 {
		t.Errorf("noon: %+v", v)
	}
	if v := p.Verdict(noon.Add(5*time.Hour + 30*time.Minute)); v.Chance > 0.1 || v.Fails[0].Code != "air-cold" {
		t.Errorf("half an hour before the cold: %+v", v)
	}
}

func TestALooserLimitGivesNoLessChance(t *testing.T) {
	e := weather(t, 200, 17, 72)
	last, moved := -1.0, 0
	for rh := 60.0; rh <= 95; rh += 2.5 {
		product := colour()
		product.Limits.HumidityMax = sensors.RelativeHumidity(rh)
		chance := planner(t, Setup{Ensemble: e, Coats: coats(product), Seed: 5}).Verdict(noon.Add(3 * time.Hour)).Chance
		if chance < last {
			t.Errorf("up to %v %% the chance is %v, with a tighter limit it was %v", rh, chance, last)
		}
		if chance > last {
			moved++
		}
		last = chance
	}
	if moved < 3 || last < 0.9 {
		t.Errorf("the limit made hardly any difference: %d steps up to %v", moved, last)
	}
}

func TestTheNextGoodHour(t *testing.T) {
	day := 24 * time.Hour
	damp := func(until time.Duration, but func(time.Duration) bool) *Planner {
		e := courses(t, 20, func(_ int, since time.Duration) drying.Conditions {
			if since < until && !but(since) {
				return room(23, 92)
			}
			return room(23, 50)
		})
		return planner(t, Setup{Ensemble: e, Coats: coats(colour()), Hours: UsualHours(time.UTC)})
	}
	never := func(time.Duration) bool { return false }
	for name, c := range map[string]struct {
		p    *Planner
		from time.Time
		want time.Time
	}{
		"now":                     {damp(0, never), noon, noon},
		"off the clock's steps":   {damp(0, never), noon.Add(7 * time.Minute), noon.Add(7 * time.Minute)},
		"at four":                 {damp(4*time.Hour, never), noon, noon.Add(4 * time.Hour)},
		"not by night":            {damp(12*time.Hour, never), noon, noon.Add(19 * time.Hour)}, // midnight → seven
		"tomorrow noon":           {damp(day, never), noon, noon.Add(day)},
		"a good start that stays": {damp(7*time.Hour, func(d time.Duration) bool { return d >= 2*time.Hour && d < 4*time.Hour }), noon, noon.Add(7 * time.Hour)},
		"none":                    {damp(3*day, never), noon, time.Time{}},
	} {
		got, ok := c.p.NextGood(c.from)
		if !got.Equal(c.want) || ok == c.want.IsZero() {
			t.Errorf("%s: %v %v, want %v", name, got, ok, c.want)
		}
	}
}

// Air that nothing can be computed from is never good.
func TestTheUnknownIsNotGood(t *testing.T) {
	e := courses(t, 4, func(int, time.Duration) drying.Conditions { return room(23, 0) })
	p := planner(t, Setup{Ensemble: e, Coats: coats(colour())})
	v := p.Verdict(noon)
	if v.Chance != 0 || len(v.Fails) != 1 || v.Fails[0].Code != "unknown" || v.Fails[0].Text == "" {
		t.Errorf("%+v", v)
	}
	if c := p.Chain(noon); c.Ends != 0 || !c.Done.Likely.IsZero() {
		t.Errorf("it ends all the same: %+v", c)
	}
}
