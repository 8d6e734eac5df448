package alert

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func TestRouterHoldsBackAllButTheCriticalAtNight(t *testing.T) {
	r := newRouter(t, routerConfig())
	evening := 10 * minute
	expect(t, r.Route(at(evening), []Transition{raised("a", Info, evening)}), "phone first waiting a is bad")
	night := time.Hour
	expect(t, r.Route(at(night), []Transition{raised("b", Warning, night), raised("c", Critical, night)}),
		"phone first held b is bad", "phone first waiting c is bad")
	over := 2 * time.Hour
	expect(t, r.Route(at(over), []Transition{becomes("c", Cleared, Critical, Ended, over)}), "phone cleared held c is good")
}

func TestRouterTellsOneDigestAtTheEndOfTheNight(t *testing.T) {
	c := routerConfig()
	c.Channels, c.Second = []string{"phone", "mail"}, nil
	r := newRouter(t, c)
	var out []Message
	for i, tr := range []Transition{
		raised("a", Info, 0), raised("b", Warning, 0), becomes("a", Cleared, Info, Ended, 0),
		raised("c", Info, 0), becomes("b", Raised, Warning, Repeat, 0), raised("d", Info, 0), becomes("d", Cleared, Info, Untold, 0),
	} {
		mono := time.Duration(i+1) * time.Hour
		tr.At = dusk.Add(mono)
		out = append(out, r.Route(at(mono), []Transition{tr})...)
	}
	for _, m := range out {
		if m.Status != Held {
			t.Fatalf("sent at night: %+v", m)
		}
	}
	morning := 9*time.Hour + 20*minute
	if got := r.Route(at(morning-minute), nil); got != nil {
		t.Fatalf("too early: %v", shown(got))
	}
	got := r.Route(at(morning), nil)
	expect(t, got, "phone digest waiting Held back until now: 4 things", "mail digest waiting Held back until now: 4 things")
	want := "Tue 23:40: b is bad\nTue 22:40 to Wed 00:40, over: a is bad\nWed 01:40: c is bad\nWed 03:40, over by now: d is bad"
	if got[0].Body != want {
		t.Errorf("got\n%s\nwant\n%s", got[0].Body, want)
	}
	if got[0].Severity != Warning || got[0].Key != (Key{"digest", "back-room", ""}) || len(got[0].Folds) != 6 || got[0].ID == got[1].ID {
		t.Errorf("%+v", got[0])
	}
	if again := r.Route(at(morning+minute), nil); again != nil {
		t.Errorf("told twice: %v", shown(again))
	}
}

func TestALoneHeldMessageIsToldInItsOwnWords(t *testing.T) {
	for name, c := range map[string]struct {
		then        []Transition
		title, body string
	}{
		"still so":       {nil, "a is bad", "warm it"},
		"over":           {[]Transition{becomes("a", Cleared, Info, Ended, 2*time.Hour)}, "a is good", "It began Tue 22:40: a is bad"},
		"over, untold":   {[]Transition{becomes("a", Cleared, Info, Untold, 2*time.Hour)}, "a is bad", "This is over by now.\nwarm it"},
		"over at dawn":   {[]Transition{becomes("a", Cleared, Info, Ended, 9*time.Hour+20*minute)}, "a is good", "It began Tue 22:40: a is bad"},
		"seen meanwhile": {[]Transition{becomes("a", Acknowledged, Info, Untold, 2*time.Hour)}, "a is bad", "warm it"},
	} {
		t.Run(name, func(t *testing.T) {
			r := newRouter(t, routerConfig())
			r.Route(at(time.Hour), []Transition{raised("a", Info, time.Hour)})
			var got []Message
			for _, tr := range c.then {
				got = append(got, r.Route(at(tr.At.Sub(dusk)), []Transition{tr})...)
			}
			got = slices.DeleteFunc(append(got, r.Route(at(10*time.Hour), nil)...), func(m Message) bool { return m.Status == Held })
			if len(got) != 1 || got[0].Title != c.title || got[0].Body != c.body {
				t.Errorf("%+v", got)
			}
			if n := len(got[0].Folds); n == 0 {
				t.Error("the held message stays held")
			}
		})
	}
}

func TestWhatBecomesCriticalAtNightIsTold(t *testing.T) {
	r := newRouter(t, routerConfig())
	held := r.Route(at(time.Hour), []Transition{raised("a", Warning, time.Hour)})
	got := r.Route(at(2*time.Hour), []Transition{becomes("a", Raised, Critical, Repeat, 2*time.Hour)})
	expect(t, got, "phone repeat waiting a is bad")
	if diff := cmp.Diff([]string{held[0].ID}, got[0].Folds); diff != "" {
		t.Error(diff)
	}
	for _, m := range r.Route(at(10*time.Hour), nil) {
		if m.Cause == Digest {
			t.Errorf("told again in the morning: %+v", m)
		}
	}
}

func TestALongNightsDigestFits(t *testing.T) {
	r := newRouter(t, routerConfig())
	for i := range 100 {
		mono := time.Hour + time.Duration(i)*minute
		tr := raised(fmt.Sprintf("%02d", i), Info, mono)
		tr.Title = strings.Repeat("ü", 60)
		r.Route(at(mono), []Transition{tr})
	}
	got := r.Route(at(10*time.Hour), nil)
	if len(got) != 1 || len([]rune(got[0].Body)) > maxBody || !strings.HasSuffix(got[0].Body, "And 87 more: see the page Alerts.") || len(got[0].Folds) != 100 {
		t.Errorf("%d characters: %s", len([]rune(got[0].Body)), got[0].Body)
	}
}

func TestNothingIsHeldLongerThanADay(t *testing.T) {
	r := newRouter(t, routerConfig())
	r.Route(at(time.Hour), []Transition{raised("a", Info, time.Hour)})
	stuck := at(time.Hour)
	for h := 2; h < 25; h++ {
		stuck.Mono = time.Duration(h) * time.Hour
		if got := r.Route(stuck, nil); got != nil {
			t.Fatalf("after %d h: %v", h, shown(got))
		}
	}
	stuck.Mono = 25 * time.Hour
	expect(t, r.Route(stuck, nil), "phone digest waiting a is bad")
}
