package main

import (
	"encoding/json"
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// lastReading ends every history of these tests.
var lastReading = time.Date(2026, 10, 14, 12, 0, 0, 0, time.UTC)

// history is three days of a room, every five minutes, as a file.
func history(t *testing.T, days int, at func(hour float64) (air, rh float64)) string {
	t.Helper()
	var b strings.Builder
	b.WriteString("time,air_c,rh_pct,surface_c\n")
	begin := lastReading.Add(-time.Duration(days) * 24 * time.Hour)
	for m := begin; !m.After(lastReading); m = m.Add(5 * time.Minute) {
		air, rh := at(float64(m.Hour()) + float64(m.Minute())/60)
		fmt.Fprintf(&b, "%s,%.2f,%.1f,%.2f\n", m.Format(time.RFC3339), air, rh, air)
	}
	return write(t, "history.csv", b.String())
}

func steady(air, rh float64) func(float64) (float64, float64) {
	return func(float64) (float64, float64) { return air, rh }
}

func planJSON(t *testing.T, args ...string) planReport {
	t.Helper()
	out, errs, code := call(t, append([]string{"plan", "--json"}, args...)...)
	var r planReport
	if err := json.Unmarshal([]byte(out), &r); code != 0 || err != nil {
		t.Fatalf("exit %d, %v, %s", code, err, errs)
	}
	return r
}

// In a room that has long been as the label says, the chain is the label's.
func TestPlanOfASteadyRoom(t *testing.T) {
	colour := filepath.Join("..", "..", "testdata", "products", "quiet-harbour-colour.toml")
	room := history(t, 3, steady(23, 50))
	r := planJSON(t, "--product", colour, "--product", colour, "--start", "2026-10-14T12:00:00Z", "--history", room,
		"--film", "70um", "--deliver", "2026-10-16T12:00:00Z")
	if r.Verdict.Go != "go" || *r.Verdict.Chance < 0.95 || r.NextGood == nil || !r.NextGood.Equal(lastReading) {
		t.Errorf("verdict %+v, next good %v", r.Verdict, r.NextGood)
	}
	if len(r.Coats) != 2 {
		t.Fatalf("%d coats", len(r.Coats))
	}
	about := func(what string, got *time.Time, want time.Duration) {
		t.Helper()
		if got == nil || math.Abs(got.Sub(lastReading).Hours()-want.Hours()) > 0.1*want.Hours() {
			t.Errorf("%s is %v, want %v after noon", what, got, want)
		}
	}
	about("the first coat", r.Coats[0].Ready, 2*time.Hour)
	about("the second start", r.Coats[1].Start, 2*time.Hour)
	about("the second coat", r.Coats[1].Ready, 4*time.Hour)
	about("the end", r.Ready, 14*time.Hour)
	for _, c := range r.Coats {
		if !c.Low.Before(*c.Ready) || !c.Ready.Before(*c.High) || *c.Chance < 0.9 {
			t.Errorf("%+v", c)
		}
	}
	if r.Delivery == nil || !r.Delivery.Feasible || r.Delivery.Start.Before(lastReading) {
		t.Errorf("delivery %+v", r.Delivery)
	}
	if len(r.WhatIfs) != 1 || *r.WhatIfs[0].Film != 70 || *r.WhatIfs[0].Saved < 60 || !r.WhatIfs[0].Ready.Before(*r.Ready) {
		t.Errorf("a thinner film: %+v", r.WhatIfs)
	}
}

// A cold room is told to wait, why, and what warmth would do; the words about
// heaters are always with it.
func TestPlanOfAColdRoom(t *testing.T) {
	colour := filepath.Join("..", "..", "testdata", "products", "quiet-harbour-colour.toml")
	args := []string{"plan", "--product", colour, "--start", "2026-10-14T12:30:00Z", "--history", history(t, 3, steady(8, 60)),
		"--raise-air", "9F", "--hold-rh", "45", "--deliver", "2026-10-15T12:00:00Z"}
	out, errs, code := call(t, args...)
	if code != 0 || errs != "" {
		t.Fatalf("exit %d: %s", code, errs)
	}
	for _, want := range []string{"Wait.", "at least 10.0 °C is needed", "no good hour", "not feasible", "the air 5 K warmer",
		"humidity held at 45 %", "No flame and no glowing heater", "label and local rules come first", safety} {
		if !strings.Contains(out, want) {
			t.Errorf("no %q in:\n%s", want, out)
		}
	}
	r := planJSON(t, args[1:]...)
	if r.Verdict.Go != "wait" || *r.Verdict.Chance > 0.2 || r.Verdict.Reasons[0].Code != "air-cold" || r.NextGood != nil || r.Delivery.Feasible {
		t.Errorf("%+v, next good %v, delivery %+v", r.Verdict, r.NextGood, r.Delivery)
	}
	if len(r.WhatIfs) != 3 || *r.WhatIfs[0].RaiseAir != 5 || *r.WhatIfs[2].RaiseAir != 5 || *r.WhatIfs[2].HoldRH != 45 {
		t.Errorf("one by one and together: %+v", r.WhatIfs)
	}
}

// Only what was known at the start counts: the rest of the record may be
// anything.
func TestAPlanDoesNotKnowWhatComes(t *testing.T) {
	stain := filepath.Join("..", "..", "testdata", "products", "hedgerow-oil-stain.toml")
	plan := func(after float64) string {
		day := 0.0
		path := history(t, 3, func(hour float64) (float64, float64) {
			if hour == 0 {
				day++
			}
			if day == 3 && hour >= 6 { // the last morning
				return after, 50
			}
			return 18 + 2*math.Cos(hour*math.Pi/12), 50
		})
		out, errs, code := call(t, "plan", "--product", stain, "--start", "2026-10-14T06:00:00Z", "--history", path)
		if code != 0 {
			t.Fatalf("exit %d: %s", code, errs)
		}
		return out
	}
	if plan(30) != plan(6) {
		t.Error("the plan changed with what came after its start")
	}
}

func TestWhatPlanRefuses(t *testing.T) {
	product := write(t, "quick.toml", quick)
	room := history(t, 1, steady(20, 50))
	short := write(t, "short.csv", record(nil))
	good := []string{"plan", "--product", product, "--start", "2026-10-14T12:00:00Z", "--history", room}
	if _, errs, code := call(t, good...); code != 0 {
		t.Fatalf("exit %d: %s", code, errs)
	}
	for name, c := range map[string]struct {
		args []string
		code int
		want []string
	}{
		"a rise without unit": {append(good, "--raise-air", "4"), 2, []string{"--raise-air", `"4"`, "3C, 3K or 5F"}},
		"a fall":              {append(good, "--raise-air", "-4C"), 2, []string{"--raise-air", "-4", "above 0"}},
		"an oven":             {append(good, "--raise-air", "60C"), 2, []string{"--raise-air", "60", "30 K"}},
		"no water":            {append(good, "--hold-rh", "0"), 2, []string{"--hold-rh", "above 0"}},
		"hours backwards":     {append(good, "--hours", "21-7"), 2, []string{"--hours", "21-7", "7-21"}},
		"no hours":            {append(good, "--hours", "always"), 2, []string{"--hours", "always", "7:30-20:00"}},
		"no such stage":       {append(good, "--wait", "perfect"), 2, []string{"--wait", "perfect"}},
		"an endless sanding":  {append(good, "--sand", "48h"), 2, []string{"48h", "24h"}},
		"delivered before":    {append(good, "--deliver", "2026-10-14T11:00:00Z"), 2, []string{"--deliver", "--start", "after"}},
		"too far off":         {[]string{"plan", "--product", product, "--start", "2026-10-17T12:00:00Z", "--history", room}, 2, []string{"history.csv", "2026-10-17", "48h"}},
		"before the record":   {[]string{"plan", "--product", product, "--start", "2026-10-01T12:00:00Z", "--history", room}, 2, []string{"history.csv", "2026-10-01"}},
		"too short a history": {[]string{"plan", "--product", product, "--start", "2026-01-02T09:59:00Z", "--history", short}, 1, []string{"short.csv", "3h"}},
		"no history":          {[]string{"plan", "--product", product, "--start", "2026-01-02T09:59:00Z", "--history", "nowhere.csv"}, 1, []string{"nowhere.csv", "no such file"}},
	} {
		out, errs, code := call(t, c.args...)
		if code != c.code || strings.Count(errs, "\n") != 1 || out != "" {
			t.Errorf("%s: exit %d, want %d; %s%s", name, code, c.code, errs, out)
		}
		for _, want := range c.want {
			if !strings.Contains(errs, want) {
				t.Errorf("%s: no %q in: %s", name, want, errs)
			}
		}
	}
}
