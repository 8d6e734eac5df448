package compat

import (
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"recoat/drying"
)

// layer is one whose label asks for two hours and allows two days.
func layer(c Class) Layer { return Layer{Class: c, Recoat: 2 * time.Hour, RecoatBy: 48 * time.Hour} }

func check(below, above Class, since time.Duration) []Advice {
	return NewTable().Check(Meeting{Below: layer(below), Above: layer(above), Since: since})
}

// The table, row by row, as a finisher would ask for it. A row with two kinds
// of layer above stands here once for each that the source names.
func TestWhatTheTableSays(t *testing.T) {
	const fresh = 3 * time.Hour // past the label's time, before twice it
	for _, c := range []struct {
		below, above Class
		want         Measures
		reason       Reason
	}{
		{Waterborne, Waterborne, OK, SameCure},
		{Waterborne, DewaxedShellac, Wait | Thin, SoftensYoung},
		{Waterborne, Lacquer, Avoid | Barrier | Patch, StrongSolvent},
		{Waterborne, Alkyd, Wait | Abrade, RigidOverSoft},
		{Waterborne, Oil, Avoid, ClosedWood},
		{Waterborne, HardWax, Avoid, ClosedWood},
		{Waterborne, SolventTwoPart, Avoid | Barrier | Patch, StrongSolvent},
		{Waterborne, WaterTwoPart, Abrade, MildSolvent},
		{Waterborne, Urethane, Avoid | Barrier | Patch, StrongSolvent},
		{Shellac, DewaxedShellac, OK, Redissolves},
		{Shellac, Lacquer, OK | Thin, Redissolves},
		{DewaxedShellac, Waterborne, OK | Abrade, BarrierCoat},
		{DewaxedShellac, Alkyd, OK | Abrade, BarrierCoat},
		{WaxyShellac, Waterborne, Avoid | Barrier, WaxOrSilicone},
		{WaxyShellac, SolventTwoPart, Avoid | Barrier, WaxOrSilicone},
		{WaxyShellac, Urethane, Avoid | Barrier, WaxOrSilicone},
		{DewaxedShellac, SolventTwoPart, Avoid | Thin, StrongSolvent},
		{DewaxedShellac, Urethane, Avoid | Thin, StrongSolvent},
		{Shellac, Oil, Avoid, ClosedWood},
		{Lacquer, Lacquer, OK, Redissolves},
		{Lacquer, Shellac, OK | Thin, MildSolvent},
		{Lacquer, Waterborne, Wait | Abrade, TrappedSolvent},
		{Lacquer, Alkyd, Wait | Abrade, TrappedSolvent},
		{Lacquer, TwoPart, Avoid | Patch, StrongSolvent},
		{Lacquer, Urethane, Avoid | Patch, StrongSolvent},
		{Alkyd, Alkyd, OK, NotDryBelow},
		{Alkyd, Waterborne, Wait | Abrade, GlossyAlkyd},
		{Alkyd, Shellac, Wait, BarrierCoat},
		{Alkyd, Lacquer, Avoid | Barrier, StrongSolvent},
		{Alkyd, TwoPart, Avoid | Barrier, StrongSolvent},
		{Alkyd, Urethane, Avoid | Barrier | Patch, StrongSolvent},
		{Alkyd, HardWax, Avoid, ClosedWood},
		{Oil, Oil, OK, SameCure},
		{Oil, Alkyd, Wait, SameCure},
		{Oil, Shellac, Wait, BarrierCoat},
		{Oil, Waterborne, Wait | Barrier, OilResidue},
		{Oil, Lacquer, Wait | Barrier | Avoid, StrongSolvent},
		{Oil, TwoPart, Wait | Barrier | Avoid, StrongSolvent},
		{Oil, Urethane, Wait | Barrier | Avoid, StrongSolvent},
		{HardWax, Alkyd, Avoid | Strip, WaxOrSilicone},
		{Wax, Waterborne, Avoid | Strip, WaxOrSilicone},
		{HardWax, HardWax, OK | Abrade | Thin, SameCure},
		{SolventTwoPart, SolventTwoPart, OK, CrossLinked},
		{SolventTwoPart, Waterborne, Abrade, CrossLinked},
		{TwoPart, Urethane, Abrade, CrossLinked},
		{Urethane, Urethane, OK, CrossLinked},
		{TwoPart, Oil, Avoid, ClosedWood},
		{Urethane, HardWax, Avoid, ClosedWood},
		{Urethane, Alkyd, Abrade, CrossLinked},
		{Alkyd, OilStain, Avoid, ClosedWood},
		{Waterborne, WaterStain, Avoid, ClosedWood},
		{Lacquer, GelStain, Abrade | Thin | Wait | Seal, SitsOnTop},
		{ThinSealer, PasteFiller, OK, PoresOpen},
		{WaterStain, Alkyd, Wait, WaterMustLeave},
		{WaterStain, Oil, Wait, WaterMustLeave},
		{WaterStain, Lacquer, Wait, WaterMustLeave},
		{WaterStain, Waterborne, Barrier, Bleeds},
		{WaterStain, Shellac, Barrier, Bleeds},
		{OilStain, PasteFiller, Wait, NotDryBelow},
		{OilStain, Alkyd, OK, SameCure},
		{OilStain, Shellac, Wait, NotDryBelow},
		{OilStain, Waterborne, Wait | Barrier, NotDryBelow},
		{OilStain, Lacquer, Wait | Barrier, StrongSolvent},
		{OilStain, TwoPart, Wait | Barrier, StrongSolvent},
		{GelStain, Alkyd, Wait, LeavesFilm},
		{GelStain, Waterborne, Wait | Barrier, LeavesFilm},
		{PasteFiller, Waterborne, Wait | Abrade, NotDryBelow},
		{VarnishFiller, Lacquer, Avoid | Barrier, StrongSolvent},
		{WaterFiller, Alkyd, Wait | Abrade, WaterMustLeave},
		{BodyFiller, Lacquer, Abrade | Prime, AbsorbsUnevenly},
		{Knots, Waterborne, Barrier, Extractives},
		{PolishResidue, Oil, Clean | Barrier, WaxOrSilicone},
		{WeatheredWood, Alkyd, Abrade, WeatheredSurface},
		{WeatheredPrimer, Waterborne, Prime, WeatheredSurface},
		{UnknownFilm, Waterborne, Abrade | Barrier | Patch, NotKnownBelow},
	} {
		got := check(c.below, c.above, fresh)
		if len(got) != 1 || got[0].Do != c.want || got[0].Reason != c.reason {
			t.Errorf("%s over %s: %+v, want %v for %s", c.above, c.below, got, c.want.Names(), c.reason)
			continue
		}
		if a := got[0]; a.Text == "" || a.Source == "" || a.Confidence == "" || a.Reason.Text() == "" || a.Asks() != c.want.Has(Avoid) || a.Warns() != (c.want != OK) {
			t.Errorf("%s over %s: %+v", c.above, c.below, a)
		}
	}
}

func TestEveryRuleCanBeReached(t *testing.T) {
	table := NewTable()
	reached := map[*Rule]bool{}
	for _, below := range Classes() {
		for _, above := range Classes() {
			for _, o := range table.cases(Meeting{Below: layer(below), Above: layer(above)}) {
				reached[o.rule] = true
			}
		}
	}
	for i := range table.rules {
		if r := &table.rules[i]; !reached[r] {
			t.Errorf("no pair reaches the rule %+v", *r)
		}
	}
}

func TestAPairWithoutARuleSaysSo(t *testing.T) {
	for _, pair := range [][2]Class{{Casein, Waterborne}, {WaxyShellac, Alkyd}, {Lacquer, Oil}, {VarnishFiller, Alkyd}, {"", Alkyd}} {
		got := check(pair[0], pair[1], 3*time.Hour)
		if len(got) != 1 || got[0].Reason != NoRule || !got[0].Warns() || got[0].Do.Has(OK) || !strings.Contains(got[0].Text, "there is no rule") {
			t.Errorf("%s over %s: %+v", pair[1], pair[0], got)
		}
	}
}

func TestWhatALabelLeavesOpenIsToldForEachCase(t *testing.T) {
	got := check(Shellac, Waterborne, 3*time.Hour)
	if len(got) != 2 || !strings.Contains(got[0].Text, "if shellac is dewaxed shellac: abrade") || !strings.Contains(got[1].Text, "if shellac is shellac that holds wax: better not") {
		t.Errorf("%+v", got)
	}
	got = check(Waterborne, TwoPart, 3*time.Hour)
	if len(got) != 2 || !strings.Contains(got[0].Text, "in solvent: better not") || !strings.Contains(got[1].Text, "in water: abrade") {
		t.Errorf("%+v", got)
	}
}

func TestTheWindowOfTheLabel(t *testing.T) {
	for name, c := range map[string]struct {
		since   time.Duration
		abraded bool
		want    []Reason
	}{
		"too soon":            {time.Hour, false, []Reason{TooSoon, SameCure}},
		"at its time":         {2 * time.Hour, false, []Reason{SameCure}},
		"at its end":          {48 * time.Hour, false, []Reason{SameCure}},
		"past it":             {48*time.Hour + time.Minute, false, []Reason{PastWindow, SameCure}},
		"past it but abraded": {72 * time.Hour, true, []Reason{SameCure}},
		"not known":           {0, false, []Reason{SameCure}},
	} {
		var reasons []Reason
		for _, a := range NewTable().Check(Meeting{Below: layer(Waterborne), Above: layer(Waterborne), Since: c.since, Abraded: c.abraded}) {
			reasons = append(reasons, a.Reason)
		}
		if !slices.Equal(reasons, c.want) {
			t.Errorf("%s: %v, want %v", name, reasons, c.want)
		}
	}
}

func TestAWaitIsOverWhenItIs(t *testing.T) {
	for name, c := range map[string]struct {
		m    Meeting
		want Measures
		wait float64
		says string
	}{
		"before twice":        {Meeting{Below: layer(Oil), Above: layer(Alkyd), Since: 3 * time.Hour}, Wait, 240, "wait 2 times the recoat time of the coat below, 4h (3h have passed by the clock)"},
		"at twice":            {Meeting{Below: layer(Oil), Above: layer(Alkyd), Since: 4 * time.Hour}, OK, 0, "nothing known against it"},
		"no recoat time":      {Meeting{Below: Layer{Class: Oil}, Above: layer(Alkyd), Since: 1000 * time.Hour}, Wait, 0, "wait 2 times the recoat time of the coat below"},
		"time not known":      {Meeting{Below: layer(Oil), Above: layer(Alkyd)}, Wait, 240, "wait 2 times"},
		"a day":               {Meeting{Below: layer(OilStain), Above: layer(Shellac), Since: 23 * time.Hour}, Wait, 24 * 60, "wait at least 24h (23h have passed by the clock)"},
		"after a day":         {Meeting{Below: layer(OilStain), Above: layer(Shellac), Since: 24 * time.Hour}, OK, 0, "nothing known against it"},
		"no clock can tell":   {Meeting{Below: layer(Lacquer), Above: layer(Alkyd), Since: 40 * time.Hour, Abraded: true}, Wait, 0, "wait until it is hard right through and smells of no solvent."},
		"gel, a step more":    {Meeting{Below: layer(GelStain), Above: layer(Shellac), Since: 47 * time.Hour}, Wait, 48 * 60, "wait at least 48h"},
		"only to be abraded":  {Meeting{Below: layer(Alkyd), Above: layer(Waterborne), Since: 4 * time.Hour}, Abrade, 0, "abrade."},
		"abraded, and waited": {Meeting{Below: layer(Alkyd), Above: layer(Waterborne), Since: 4 * time.Hour, Abraded: true}, OK, 0, "nothing known against it"},
	} {
		got := NewTable().Check(c.m)
		if len(got) != 1 || got[0].Do != c.want || got[0].WaitMinutes != c.wait || !strings.Contains(got[0].Text, c.says) {
			t.Errorf("%s: %+v", name, got)
		}
	}
}

// A two-part coat over itself has its label's window; over another it must be
// abraded.
func TestTheSameProductIsToldFromAnother(t *testing.T) {
	below, above := layer(SolventTwoPart), layer(SolventTwoPart)
	below.Product, above.Product = "Grey Quay clear", "Grey Quay clear"
	if got := NewTable().Check(Meeting{Below: below, Above: above, Since: 3 * time.Hour}); got[0].Do != OK {
		t.Errorf("%+v", got)
	}
	above.Product = "Long Field clear"
	if got := NewTable().Check(Meeting{Below: below, Above: above, Since: 3 * time.Hour}); got[0].Do != Abrade {
		t.Errorf("%+v", got)
	}
}

func TestLayersOfProducts(t *testing.T) {
	want := map[string]Class{
		"waterborne acrylic": Waterborne, "waterborne polyurethane": Waterborne, "waterborne stain": WaterStain, "waterborne casein": Casein,
		"solvent shellac": Shellac, "solvent lacquer": Lacquer,
		"oxidising alkyd": Alkyd, "oxidising oil": Oil, "oxidising hardwax": HardWax,
		"two-part epoxy": TwoPart, "two-part polyurethane": TwoPart, "moisture-curing urethane": Urethane,
	}
	for _, family := range drying.Families() {
		for _, kind := range drying.Kinds(family) {
			name := string(family) + " " + kind
			if got := LayerOf(drying.Product{Family: family, Kind: kind}).Class; got == "" || got != want[name] {
				t.Errorf("%s: %q, want %q", name, got, want[name])
			}
		}
	}
}

func TestOwnRulesComeFirst(t *testing.T) {
	own, err := LoadRules(strings.NewReader(`
[[rule]]
below = ["shellac"]
above = ["waterborne"]
do = ["wait"]
wait_times = 1.5
wait = "6h"
note = "Held on three boards in spring."
`), "own.toml")
	if err != nil {
		t.Fatal(err)
	}
	got := NewTable(own...).Check(Meeting{Below: layer(Shellac), Above: layer(Waterborne), Since: 3 * time.Hour})
	if len(got) != 1 || got[0].Reason != FinisherOwn || got[0].WaitMinutes != 360 || !strings.HasSuffix(got[0].Text, "It is your own rule. Held on three boards in spring.") {
		t.Errorf("%+v", got)
	}
	if got := NewTable(own...).Check(Meeting{Below: layer(Alkyd), Above: layer(Alkyd), Since: 3 * time.Hour}); got[0].Reason != NotDryBelow {
		t.Errorf("another pair: %+v", got)
	}
}

func TestLoadRulesRefuses(t *testing.T) {
	const right = "[[rule]]\nbelow = [\"oil\"]\nabove = [\"alkyd\"]\ndo = [\"wait\"]\nwait = \"2h\"\n"
	if rules, err := LoadRules(strings.NewReader(right), "own.toml"); err != nil || len(rules) != 1 {
		t.Fatal(rules, err)
	}
	for says, text := range map[string]string{
		`own.toml: line 6: "rule.colour" is not a key of a rule`:       right + "colour = 3\n",
		`own.toml: line 1 cannot be read`:                              "[[rule]\n",
		`own.toml: rule 1: below: "gold" is no class of layer: one of`: strings.Replace(right, `"oil"`, `"gold"`, 1),
		`own.toml: rule 1: above is missing`:                           strings.Replace(right, `"alkyd"`, ``, 1),
		`own.toml: rule 1: do: "pray" is no measure: one of ok, wait`:  strings.Replace(right, `"wait"`, `"pray"`, 1),
		`own.toml: rule 1: do is missing`:                              strings.Replace(right, `"wait"`, ``, 1),
		`own.toml: rule 1: wait: "2" has no unit`:                      strings.Replace(right, `2h`, `2`, 1),
		`own.toml: rule 1: wait_times of -1 cannot be`:                 right + "wait_times = -1\n",
		`own.toml: rule 1: wait_times of NaN cannot be`:                right + "wait_times = nan\n",
		`own.toml: rule 1: "wait" stands in do exactly where`:          strings.Replace(right, `"wait"`, `"ok"`, 1),
		`own.toml: rule 1: a text has 501 characters`:                  right + "note = \"" + strings.Repeat("é", 501) + "\"\n",
		`own.toml: 201 rules: at most 200`:                             strings.Repeat(right, 201),
		`own.toml: the file is larger than 64 KiB`:                     strings.Repeat("#", 65<<10),
	} {
		if _, err := LoadRules(strings.NewReader(text), "own.toml"); err == nil || !strings.HasPrefix(err.Error(), says) {
			t.Errorf("%v\n want %s", err, says)
		}
	}
}

func FuzzLoadRules(f *testing.F) {
	f.Add("[[rule]]\nbelow = [\"oil\"]\nabove = [\"alkyd\"]\ndo = [\"wait\"]\nwait = \"2h\"\n")
	f.Fuzz(func(t *testing.T, text string) {
		own, err := LoadRules(strings.NewReader(text), "own.toml")
		if err != nil {
			return
		}
		for _, r := range own {
			m := Meeting{Below: layer(r.Below[0]), Above: layer(r.Above[0]), Since: time.Hour}
			if got := NewTable(own...).Check(m); len(got) == 0 || got[len(got)-1].Text == "" {
				t.Errorf("%+v: %+v", r, got)
			}
		}
	})
}

// The page that a finisher writes rules by names every class and every
// measure, and its example is one.
func TestThePageOfRules(t *testing.T) {
	page, err := os.ReadFile("../JOURNAL.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range Classes() {
		if !strings.Contains(string(page), "`"+string(c)+"`") {
			t.Errorf("the class %s is not on it", c)
		}
	}
	for _, name := range measureNames {
		if m, err := ParseMeasure(name); err != nil || !slices.Equal(m.Names(), []string{name}) || !strings.Contains(string(page), "`"+name+"`") {
			t.Errorf("the measure %s is not on it, or not read as itself: %v, %v", name, m.Names(), err)
		}
	}
	_, example, _ := strings.Cut(string(page), "```toml\n")
	example, _, _ = strings.Cut(example, "```")
	rules, err := LoadRules(strings.NewReader(example), "the example")
	if err != nil || len(rules) != 1 || rules[0].Wait != (Span{Times: 4, For: 72 * time.Hour, Until: "a white cloth takes no colour up"}) {
		t.Errorf("%+v, %v", rules, err)
	}
}

func TestTimesThatHavePassedAreWords(t *testing.T) {
	for d, want := range map[time.Duration]string{10 * time.Second: "less than a minute has passed", 50 * time.Second: "1m has passed", time.Hour: "1h has passed", 24 * time.Hour: "24h have passed", 90 * time.Minute: "1h30m have passed"} {
		if got := passedWords(d); got != want {
			t.Errorf("%v: %q, want %q", d, got, want)
		}
	}
}
