package alert

import (
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/drying"
	"recoat/sensors"
)

var pressCoat = OfCoat{Room: "back-room", Coat: "c-0007", Film: press}

// judged is a finding as a test looks at it.
type judged struct {
	Condition Tri
	Severity  Severity
	Title     string
	Body      string
}

func check(t *testing.T, name string, got Finding, want judged) {
	t.Helper()
	if diff := cmp.Diff(want, judged{got.Condition, got.Severity, got.Title, got.Body}); diff != "" {
		t.Errorf("%s: %s", name, diff)
	}
}

const noFlame = "\nNo flame or glowing heater near solvent vapour."

func TestRecoatBy(t *testing.T) {
	now := clockAt(4, 23, 25)
	title := "Recoat soon or abrade first: Linen press, doors"
	for name, c := range map[string]struct {
		left  time.Duration
		ready bool
		want  judged
	}{
		"far off":      {5 * time.Hour, true, judged{False, Warning, "", ""}},
		"between":      {4*time.Hour + minute, true, judged{Between, Warning, title, "The label's time to recoat ends Wed 03:26, in 4 h 1 min."}},
		"near":         {4 * time.Hour, true, judged{True, Warning, title, "The label's time to recoat ends Wed 03:25, in 4 h."}},
		"and not dry":  {time.Hour, false, judged{True, Warning, title, "The label's time to recoat ends Wed 00:25, in 1 h.\nIt is not ready to recoat yet."}},
		"over already": {-time.Hour, true, judged{True, Warning, "Recoat time is over, abrade first: Linen press, doors", "The label's time to recoat ended Tue 22:25."}},
	} {
		check(t, name, RecoatBy(RecoatByFacts{OfCoat: pressCoat, Ready: c.ready, By: now.Add(c.left), Now: now}), c.want)
	}
	check(t, "no limit", RecoatBy(RecoatByFacts{OfCoat: pressCoat, Now: now}), judged{False, Warning, "", ""})
	if key := RecoatBy(RecoatByFacts{OfCoat: pressCoat}).Key; key != (Key{"recoat-by", "back-room", "c-0007"}) {
		t.Error(key)
	}
}

func TestFilmCold(t *testing.T) {
	cold, warm := "Film may not form: Linen press, doors. Warm it.", "Warm enough for the film again: Linen press, doors"
	for _, c := range []struct {
		surface sensors.Celsius
		want    judged
	}{
		{8, judged{True, Critical, cold, "The surface is at 8.0 °C; the film forms above 8.0 °C." + noFlame}},
		{8.1, judged{Between, Critical, cold, "The surface is at 8.1 °C; the film forms above 8.0 °C." + noFlame}},
		{9, judged{False, Critical, warm, "The surface is at 9.0 °C; the film forms above 8.0 °C."}},
		{-2, judged{True, Critical, cold, "The surface is at -2.0 °C; the film forms above 8.0 °C." + noFlame}},
	} {
		check(t, "film cold", FilmCold(FilmColdFacts{OfCoat: pressCoat, Surface: c.surface, FormsAbove: 8}), c.want)
	}
	if got := FilmCold(FilmColdFacts{OfCoat: pressCoat, Surface: sensors.Celsius(math.NaN()), FormsAbove: 8}); got.Condition != Unknown {
		t.Errorf("%+v", got)
	}
}

func TestCondensation(t *testing.T) {
	wet, dry := "Water may settle on Linen press, doors. Warm it.", "Dew margin is back: Linen press, doors"
	for _, c := range []struct {
		surface sensors.Celsius
		want    judged
	}{
		{10.5, judged{True, Critical, wet, "Surface 10.5 °C, dew point 10.0 °C: a margin of 0.5 ± 0.6 K; at least 3.0 K is needed." + noFlame}},
		{11, judged{True, Warning, wet, "Surface 11.0 °C, dew point 10.0 °C: a margin of 1.0 ± 0.6 K; at least 3.0 K is needed." + noFlame}},
		{13, judged{True, Warning, wet, "Surface 13.0 °C, dew point 10.0 °C: a margin of 3.0 ± 0.6 K; at least 3.0 K is needed." + noFlame}},
		{13.25, judged{Between, Warning, wet, "Surface 13.2 °C, dew point 10.0 °C: a margin of 3.2 ± 0.6 K; at least 3.0 K is needed." + noFlame}},
		{13.5, judged{False, Warning, dry, "Surface 13.5 °C, dew point 10.0 °C: a margin of 3.5 ± 0.6 K; at least 3.0 K is needed."}},
	} {
		check(t, "condensation", Condensation(CondensationFacts{OfCoat: pressCoat, Surface: c.surface, DewPoint: 10, Uncertainty: 0.6, Least: 3}), c.want)
	}
	if got := Condensation(CondensationFacts{OfCoat: pressCoat, DewPoint: sensors.Celsius(math.NaN())}); got.Condition != Unknown || got.Severity != Warning {
		t.Errorf("%+v", got)
	}
}

func TestBlush(t *testing.T) {
	of := func(margin sensors.Kelvins) Finding {
		return Blush(BlushFacts{OfCoat: pressCoat, Margin: margin, Least: 5})
	}
	check(t, "near", of(2.1), judged{True, Warning, "May blush: Linen press, doors. Dry the air.", "The air is 2.1 K above its dew point; at least 5.0 K is needed while solvent leaves."})
	check(t, "far", of(5.5), judged{False, Warning, "No longer likely to blush: Linen press, doors", "The air is 5.5 K above its dew point; at least 5.0 K is needed while solvent leaves."})
	if of(5.4).Condition != Between || of(sensors.Kelvins(math.NaN())).Condition != Unknown {
		t.Error("between or unknown")
	}
}

func TestStalled(t *testing.T) {
	of := func(pace float64) Finding {
		return Stalled(StalledFacts{OfCoat: pressCoat, Pace: pace, Since: clockAt(5, 2, 10), Now: clockAt(5, 3, 0), Blocked: []drying.Reason{damp}})
	}
	check(t, "stands", of(0.02), judged{True, Warning, "Drying stands still: Linen press, doors", "Pace 0.02 since Wed 02:10.\n" + sentence(damp.Text)})
	check(t, "dries", of(0.4), judged{False, Warning, "Drying again: Linen press, doors", "Pace 0.40."})
	if of(0.1).Condition != Between || of(math.NaN()).Condition != Unknown {
		t.Error("between or unknown")
	}
}

func TestSlipped(t *testing.T) {
	applied, promised := clockAt(4, 21, 0), clockAt(5, 1, 0) // four hours
	of := func(late time.Duration) Finding {
		return Slipped(SlippedFacts{OfCoat: pressCoat, Stage: drying.DryToRecoat, Applied: applied, Promised: promised, Likely: promised.Add(late), Now: applied})
	}
	slipped := judged{True, Info, "Ready later than told: Linen press, doors", capital(drying.DryToRecoat.String()) + " is now likely Wed 02:00, not Wed 01:00: 1 h later."}
	check(t, "an hour", of(time.Hour), slipped)
	for d, want := range map[time.Duration]Tri{48 * minute: True, 47 * minute: Between, 25 * minute: Between, 24 * minute: False, -time.Hour: False} {
		if got := of(d); got.Condition != want {
			t.Errorf("%v late: %v, want %v", d, got.Condition, want)
		}
	}
	soon := SlippedFacts{OfCoat: pressCoat, Applied: applied, Promised: applied.Add(40 * minute), Likely: applied.Add(69 * minute), Now: applied}
	if got := Slipped(soon); got.Condition != False {
		t.Errorf("less than half an hour is no news: %+v", got)
	}
	soon.Likely = time.Time{}
	if got := Slipped(soon); got.Condition != Unknown {
		t.Errorf("no time: %+v", got)
	}
	soon.Promised = soon.Applied
	if got := Slipped(soon); got.Condition != Unknown {
		t.Errorf("nothing promised: %+v", got)
	}
}

func TestWillBeUnfit(t *testing.T) {
	now := clockAt(4, 22, 0)
	facts := ForecastFacts{Room: "back-room", Title: "Back room", Open: []Film{press}, Chance: 0.7,
		At: clockAt(5, 2, 0), Closed: clockAt(5, 3, 25), Reason: damp, Now: now}
	trouble := troubleOf(damp.Code)
	want := judged{True, Warning, "Soon near the dew point: Linen press, doors. Warm it.",
		"Likely from Wed 02:00 (a chance of 70 %), before the film closes about Wed 03:25.\n" + sentence(damp.Text) + noFlame}
	if !trouble.heat || trouble.what != "Near the dew point" {
		t.Fatalf("%+v", trouble)
	}
	check(t, "likely", WillBeUnfit(facts), want)
	for name, c := range map[string]struct {
		spoil func(*ForecastFacts)
		want  Tri
		title string
	}{
		"not so likely":     {func(f *ForecastFacts) { f.Chance = 0.3 }, False, "Likely to stay fit: Back room"},
		"after it closes":   {func(f *ForecastFacts) { f.At = f.Closed }, False, "Likely to stay fit: Back room"},
		"nothing is open":   {func(f *ForecastFacts) { f.Open = nil }, False, ""},
		"there is no sight": {func(f *ForecastFacts) { f.Chance = math.NaN() }, Unknown, "Soon near the dew point: Linen press, doors. Warm it."},
	} {
		f := facts
		c.spoil(&f)
		if got := WillBeUnfit(f); got.Condition != c.want || got.Title != c.title {
			t.Errorf("%s: %v %q", name, got.Condition, got.Title)
		}
	}
}

func TestFitAgain(t *testing.T) {
	of := func(s drying.State) Finding {
		return FitAgain(FitAgainFacts{Room: "back-room", Title: "Back room", Asked: "w-1", Verdict: drying.Verdict{State: s}})
	}
	check(t, "fit", of(drying.Fit), judged{True, Info, "Fit to coat again: Back room", ""})
	for s, want := range map[drying.State]Tri{drying.Unfit: False, drying.Caution: False, drying.Unknown: Unknown} {
		check(t, s.String(), of(s), judged{want, Info, "", ""})
	}
	if got := of(drying.Fit); !got.Once || got.Hold != 20*minute || got.Key.Subject != "w-1" {
		t.Errorf("%+v", got)
	}
}

// Between the thresholds a hold and a clear time go on, and nothing ends.
func TestBetweenIsWhateverItWas(t *testing.T) {
	f := finding(True)
	for name, c := range map[string]struct {
		conditions string
		want       []string
	}{
		"holds on":            {"TBBBBB", []string{"0 pending→pending untold", "5 pending→raised first"}},
		"begins nothing":      {"BBBBBBBBBB", nil},
		"keeps it raised":     {"TTTTTTBBBBBBBBBBBBBBBBBB", []string{"0 pending→pending untold", "5 pending→raised first"}},
		"clears, ends at F":   {"TTTTTTFBBBBBBBBBBBBBF", []string{"0 pending→pending untold", "5 pending→raised first", "20 raised→cleared cleared"}},
		"unknown before it":   {"TTTUBBBBBBBBBB", []string{"0 pending→pending untold"}},
		"true after clearing": {"TTTTTTFFFFBBTFFFFFFFFF", []string{"0 pending→pending untold", "5 pending→raised first"}},
	} {
		t.Run(name, func(t *testing.T) {
			if diff := cmp.Diff(c.want, steps(newEngine(), 0, c.conditions, f)); diff != "" {
				t.Error(diff)
			}
		})
	}
}
