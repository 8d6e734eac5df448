package alert

import (
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"

	"recoat/drying"
)

var (
	press  = Film{Piece: "Linen press", Part: "doors"}
	damp   = drying.Reason{Code: "dew-margin", Value: 1.8, Limit: 3, Unit: "K", Text: "The dew margin is 1.8 K; at least 3.0 K is needed"}
	colder = drying.Reason{Code: "film-cold", Value: 7.2, Limit: 8, Unit: "Cel", Text: "The wet film is 7.2 °C; at least 8.0 °C is needed"}
	roomy  = drying.Reason{Code: "dew-margin", Value: 5.6, Limit: 3, Unit: "K", Text: "The dew margin is 5.6 K; at least 3.0 K is needed"}
)

func clockAt(day, hour, minute int) time.Time {
	return time.Date(2031, 3, day, hour, minute, 0, 0, time.FixedZone("shop", 3600))
}

func readyFacts() ReadyFacts {
	return ReadyFacts{
		Room: "back-room", Coat: "c-0007", Film: press, Applied: clockAt(4, 22, 15), RecoatBy: clockAt(7, 22, 15),
		Estimate: drying.Estimate{
			Stage: drying.DryToRecoat, Stated: 2 * time.Hour, Pace: 0.39, Done: 1, Reached: true,
			Likely: clockAt(5, 3, 25), Low: clockAt(5, 2, 40), High: clockAt(5, 4, 20),
		},
		Verdict: drying.Verdict{State: drying.Fit, Reasons: []drying.Reason{roomy}},
	}
}

func TestReadySaysWhatWhichAndWhatToDo(t *testing.T) {
	blocked := readyFacts()
	blocked.Verdict = drying.Verdict{State: drying.Unfit, Reasons: []drying.Reason{damp}}
	handle := readyFacts()
	handle.Estimate.Stage, handle.Estimate.Assumed, handle.Refuted = drying.Handle, true, 2
	unreached := readyFacts()
	unreached.Estimate.Reached = false
	reckoned := "Reckoned ready Wed 03:25 (Wed 02:40 to Wed 04:20), 5 h 10 min after coating.\n"
	rule := "The label and local rules come first; touch decides."
	for name, c := range map[string]struct {
		facts ReadyFacts
		want  Finding
	}{
		"recoat": {readyFacts(), Finding{
			Key: Key{"ready", "back-room", "c-0007/dry-to-recoat"}, Condition: True, Once: true,
			Title: "Touch test, then recoat: Linen press, doors",
			Body: "Recoat before Fri 22:15; later, abrade first.\n" + reckoned +
				"The label says 2 h; pace now 0.39.\n" + rule,
		}},
		"recoat in an unfit room": {blocked, Finding{
			Key: Key{"ready", "back-room", "c-0007/dry-to-recoat"}, Condition: True, Once: true,
			Title: "Dry, but do not coat yet: Linen press, doors",
			Body: "Recoat before Fri 22:15; later, abrade first.\n" +
				"The room is not fit. The dew margin is 1.8 K; at least 3.0 K is needed.\n" + reckoned +
				"The label says 2 h; pace now 0.39.\n" + rule,
		}},
		"a stage found short twice, of which the label says nothing": {handle, Finding{
			Key: Key{"ready", "back-room", "c-0007/handle/2"}, Condition: True, Once: true,
			Title: "Touch test, then handle: Linen press, doors",
			Body:  reckoned + "The label gives no time, its kind usually takes 2 h; pace now 0.39.\n" + rule,
		}},
		"not reached": {unreached, Finding{Key: Key{"ready", "back-room", "c-0007/dry-to-recoat"}, Condition: False, Once: true}},
	} {
		if diff := cmp.Diff(c.want, Ready(c.facts)); diff != "" {
			t.Errorf("%s: %s", name, diff)
		}
	}
	for _, s := range drying.Stages() {
		f := readyFacts()
		f.Estimate.Stage = s
		if got := Ready(f); !strings.Contains(got.Title, "Linen press, doors") || !strings.Contains(got.Body, rule) {
			t.Errorf("%v: %+v", s, got)
		}
	}
}

func TestUnfit(t *testing.T) {
	facts := UnfitFacts{
		Room: "back-room", Title: "Back room", Now: clockAt(5, 2, 0), Until: clockAt(5, 7, 30), Open: []Film{press},
		Verdict: drying.Verdict{State: drying.Unfit, Reasons: []drying.Reason{damp, colder}},
	}
	got := Unfit(facts)
	want := Finding{
		Key: Key{"unfit", "back-room", ""}, Condition: True, Severity: Critical, Hold: unfitHold, Clear: unfitClear,
		Title: "Near the dew point: Linen press, doors. Warm it.",
		Body: "Likely until Wed 07:30.\nThe dew margin is 1.8 K; at least 3.0 K is needed.\n" +
			"The wet film is 7.2 °C; at least 8.0 °C is needed.\nNo flame or glowing heater near solvent vapour.",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	facts.Until, facts.Open = time.Time{}, []Film{press, {Piece: "Stool"}, {Piece: "Tray"}}
	facts.Verdict.Reasons = []drying.Reason{{Code: "humid", Text: "Relative humidity is 91.0 %; at most 85.0 % is allowed"}}
	got = Unfit(facts)
	if got.Severity != Warning || got.Title != "Too damp: Linen press, doors and 2 more. Dry the air." {
		t.Errorf("%v %q", got.Severity, got.Title)
	}
	if got.Body != "No end in sight yet.\nRelative humidity is 91.0 %; at most 85.0 % is allowed." {
		t.Errorf("body %q", got.Body)
	}
}

func TestUnfitIsWorthTellingOnlyOfOpenFilms(t *testing.T) {
	for _, c := range []struct {
		state drying.State
		open  []Film
		want  Tri
		title string
	}{
		{drying.Unfit, nil, False, ""},
		{drying.Caution, []Film{press}, Unknown, ""},
		{drying.Caution, nil, False, ""},
		{drying.Unknown, []Film{press}, Unknown, ""},
		{drying.Fit, []Film{press}, False, "Fit to coat again: Back room"},
		{drying.Fit, nil, False, "Fit to coat again: Back room"},
	} {
		got := Unfit(UnfitFacts{Room: "back-room", Title: "Back room", Open: c.open, Verdict: drying.Verdict{State: c.state}})
		if got.Condition != c.want || got.Title != c.title {
			t.Errorf("%v with %d open: %v %q", c.state, len(c.open), got.Condition, got.Title)
		}
	}
}

func TestSensorSilent(t *testing.T) {
	facts := SilentFacts{Room: "back-room", Title: "Back room", Node: "node-1", Silent: true, Heard: clockAt(5, 2, 10), Now: clockAt(5, 2, 40), Open: []Film{press}}
	key := Key{"silent", "back-room", "node-1"}
	check := func(want Finding) {
		t.Helper()
		if diff := cmp.Diff(want, SensorSilent(facts)); diff != "" {
			t.Error(diff)
		}
	}
	check(Finding{Key: key, Condition: True, Severity: Warning, Title: "Node node-1 is silent. Check its power: Back room",
		Body: "Last heard Wed 02:10.\nUntil it is back, the time of Linen press, doors is a guess: touch test."})
	facts.Open, facts.Heard = nil, time.Time{}
	check(Finding{Key: key, Condition: True, Title: "Node node-1 is silent. Check its power: Back room",
		Body: "Nothing heard since the hub started.\nUntil it is back, nobody watches this room."})
	facts.Silent = false
	check(Finding{Key: key, Condition: False, Title: "Node node-1 is back: Back room"})
}

// Whatever a finisher calls things, a title fits a lock screen and keeps what
// to do.
func TestTitlesFit(t *testing.T) {
	for _, name := range []string{"", "x", "Grandmother's linen press from the attic of the old mill house", strings.Repeat("ü", 500), "a\r\nSubject: b\x00", "\xff\xfe"} {
		ready := readyFacts()
		ready.Film = Film{Piece: name, Part: name}
		open := []Film{{name, name}, press}
		for _, f := range []Finding{
			Ready(ready),
			Unfit(UnfitFacts{Title: name, Open: open, Verdict: drying.Verdict{State: drying.Unfit, Reasons: []drying.Reason{damp}}}),
			Unfit(UnfitFacts{Title: name, Open: open, Verdict: drying.Verdict{State: drying.Fit}}),
			SensorSilent(SilentFacts{Title: name, Node: name, Silent: true, Open: open}),
			SensorSilent(SilentFacts{Title: name, Node: name}),
		} {
			if n := utf8.RuneCountInString(f.Title); n == 0 || n > maxTitle || strings.ContainsAny(f.Title, "\r\n\x00") || !utf8.ValidString(f.Title) {
				t.Errorf("%d characters: %q", n, f.Title)
			}
		}
		if got := Unfit(UnfitFacts{Open: open, Verdict: drying.Verdict{State: drying.Unfit, Reasons: []drying.Reason{damp}}}); !strings.HasSuffix(got.Title, " and 1 more. Warm it.") {
			t.Errorf("what to do is lost: %q", got.Title)
		}
	}
}

func TestALongPieceKeepsItsPart(t *testing.T) {
	f := readyFacts()
	f.Film.Piece = "Grandmother's linen press from the attic of the old mill house"
	if got, want := Ready(f).Title, "Touch test, then recoat: Grandmother's linen press f…, doors"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

func TestSpansAndClocks(t *testing.T) {
	for d, want := range map[time.Duration]string{
		0: "0 min", 29 * time.Second: "0 min", 59 * time.Minute: "59 min", 60 * time.Minute: "1 h", 310 * time.Minute: "5 h 10 min",
		47*time.Hour + 59*time.Minute: "47 h 59 min", 48 * time.Hour: "2 d", 21 * 24 * time.Hour: "21 d", 77 * time.Hour: "3 d 5 h",
	} {
		if got := span(d); got != want {
			t.Errorf("%v is %q, want %q", d, got, want)
		}
	}
	now := clockAt(4, 21, 40)
	for _, c := range []struct {
		at   time.Time
		want string
	}{
		{clockAt(5, 3, 25), "Wed 03:25"}, {clockAt(9, 3, 25), "Sun 03:25"}, {clockAt(12, 3, 25), "Wed 12 Mar 03:25"}, {clockAt(-3, 3, 25), "Tue 25 Feb 03:25"},
	} {
		if got := clock(c.at, now); got != c.want {
			t.Errorf("%v is %q, want %q", c.at, got, c.want)
		}
	}
}
