package alert

import (
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

const minute = time.Minute

// routerConfig is quiet from 22:00 to 07:00 UTC; dusk is 21:40.
func routerConfig() RouterConfig {
	return RouterConfig{
		Channels: []string{"phone"}, Second: []string{"mail"}, After: 30 * minute,
		Quiet: QuietHours{22 * time.Hour, 7 * time.Hour}, Zone: time.UTC,
	}
}

func newRouter(t *testing.T, c RouterConfig) *Router {
	t.Helper()
	r, err := NewRouter(c)
	must(t, err)
	return r
}

// becomes is a transition of an episode to a state, told for a cause.
func becomes(id string, state State, severity Severity, cause Cause, mono time.Duration) Transition {
	e := Episode{ID: id, Key: Key{"unfit", "back-room", id}, State: state, Severity: severity,
		Title: id + " is bad", Body: "warm it", Since: dusk, RaisedAt: dusk, Told: uint32(cause)}
	tr := Transition{Episode: e, Cause: cause, Title: e.Title, Body: e.Body, At: dusk.Add(mono)}
	if state == Cleared {
		tr.Episode.EndedAt, tr.Title, tr.Body = tr.At, id+" is good", ""
	}
	return tr
}

func raised(id string, s Severity, mono time.Duration) Transition {
	return becomes(id, Raised, s, First, mono)
}

// shown lists messages as "channel cause status title".
func shown(all []Message) []string {
	var lines []string
	for _, m := range all {
		lines = append(lines, fmt.Sprintf("%s %v %v %s", m.Channel, m.Cause, m.Status, m.Title))
	}
	return lines
}

func expect(t *testing.T, got []Message, want ...string) {
	t.Helper()
	if diff := cmp.Diff(want, shown(got)); diff != "" {
		t.Error(diff)
	}
}

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

func TestRouterEscalatesWhatNobodyAcknowledged(t *testing.T) {
	day := 14 * time.Hour // 11:40
	route := func(t *testing.T, first Transition, then ...Transition) []string {
		r := newRouter(t, routerConfig())
		all := r.Route(at(day), []Transition{first})
		for m := 1; m <= 90; m++ {
			now := day + time.Duration(m)*minute
			var due []Transition
			for _, tr := range then {
				if tr.At.Equal(dusk.Add(now)) {
					due = append(due, tr)
				}
			}
			all = append(all, r.Route(at(now), due)...)
		}
		return shown(all)
	}
	for name, c := range map[string]struct {
		first Transition
		then  []Transition
		want  []string
	}{
		"a warning":                         {raised("a", Warning, day), nil, []string{"mail escalated waiting a is bad"}},
		"what is critical":                  {raised("a", Critical, day), nil, []string{"mail escalated waiting a is bad"}},
		"not what is mild":                  {raised("a", Info, day), nil, nil},
		"not what was seen":                 {raised("a", Warning, day), []Transition{becomes("a", Acknowledged, Warning, Untold, day+29*minute)}, nil},
		"not what is over":                  {raised("a", Warning, day), []Transition{becomes("a", Cleared, Warning, Ended, day+29*minute)}, []string{"phone cleared waiting a is good"}},
		"a repeat begins the time anew":     {raised("a", Warning, day), []Transition{becomes("a", Raised, Warning, Repeat, day+29*minute)}, []string{"phone repeat waiting a is bad", "mail escalated waiting a is bad"}},
		"and then both hear of its end":     {raised("a", Warning, day), []Transition{becomes("a", Cleared, Warning, Ended, day+40*minute)}, []string{"mail escalated waiting a is bad", "phone cleared waiting a is good", "mail cleared waiting a is good"}},
		"and then both hear that it repeat": {raised("a", Warning, day), []Transition{becomes("a", Raised, Warning, Repeat, day+40*minute)}, []string{"mail escalated waiting a is bad", "phone repeat waiting a is bad", "mail repeat waiting a is bad"}},
	} {
		t.Run(name, func(t *testing.T) {
			want := append([]string{"phone first waiting a is bad"}, c.want...)
			if diff := cmp.Diff(want, route(t, c.first, c.then...)); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestAnEscalationSaysSoAndKeepsTheTimeOfTheEvent(t *testing.T) {
	r := newRouter(t, routerConfig())
	r.Route(at(0), []Transition{raised("a", Critical, 0)})
	got := r.Route(at(30*minute), nil) // 22:10, quiet
	expect(t, got, "mail escalated waiting a is bad")
	if got[0].Body != "Nobody has acknowledged this for 30 min.\nwarm it" || !got[0].At.Equal(dusk) {
		t.Errorf("%+v", got[0])
	}
	r = newRouter(t, routerConfig())
	r.Route(at(0), []Transition{raised("a", Warning, 0)})
	for m := range 9*60 + 20 {
		if got := r.Route(at(time.Duration(m)*minute), nil); got != nil {
			t.Fatalf("a warning escalated at night: %v", shown(got))
		}
	}
	expect(t, r.Route(at(9*time.Hour+20*minute), nil), "mail escalated waiting a is bad")
}

func TestASilentNodeMutesItsChildren(t *testing.T) {
	day := 14 * time.Hour
	of := func(rule, subject string, s Severity, state State, cause Cause) Transition {
		tr := becomes(rule+" "+subject, state, s, cause, day)
		tr.Episode.Key = Key{rule, "back-room", subject}
		return tr
	}
	r := newRouter(t, routerConfig())
	// The child comes first in the step: the parent still explains it.
	got := r.Route(at(day), []Transition{
		of("mute", "node-1/air", Warning, Raised, First), of("silent", "node-1", Warning, Raised, First),
		of("mute", "node-10/air", Warning, Raised, First), of("supply", "node-1", Critical, Raised, First), of("unfit", "node-1", Info, Raised, First),
	})
	expect(t, got, "phone first held mute node-1/air is bad", "phone first waiting silent node-1 is bad",
		"phone first waiting mute node-10/air is bad", "phone first waiting supply node-1 is bad", "phone first waiting unfit node-1 is bad")
	r.Route(at(day+minute), []Transition{of("silent", "node-1", Warning, Acknowledged, Untold)})
	expect(t, r.Route(at(day+2*minute), []Transition{of("clock", "node-1", Warning, Raised, First)}), "phone first held clock node-1 is bad")
	got = r.Route(at(day+3*minute), []Transition{of("silent", "node-1", Warning, Cleared, Ended)})
	expect(t, got, "phone cleared waiting silent node-1 is good", "phone digest waiting Held back until now: 2 things")
}

// A channel is not asked to say that it fails; the second one says it where
// there is no other.
func TestAFailingChannelIsToldOfByTheOthers(t *testing.T) {
	failing := raised("phone fails", Warning, 0)
	failing.Episode.Key = Key{Rule: ruleChannel, Subject: "phone"}
	for _, c := range []struct{ first, second, want []string }{
		{[]string{"phone", "mqtt"}, []string{"mail"}, []string{"mqtt first waiting phone fails is bad"}},
		{[]string{"phone"}, []string{"mail"}, []string{"mail first waiting phone fails is bad"}},
		{[]string{"phone"}, nil, nil},
	} {
		r := newRouter(t, RouterConfig{Channels: c.first, Second: c.second, Zone: time.UTC})
		expect(t, r.Route(Instant{Wall: dusk}, []Transition{failing}), c.want...)
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

// A clock that jumps by a day, either way, at any moment of the night repeats
// nothing, and only ends the night if it then shows day.
func TestAClockStepThroughTheRouterRepeatsNothing(t *testing.T) {
	for _, step := range []time.Duration{24 * time.Hour, -24 * time.Hour} {
		for _, after := range []time.Duration{30 * minute, 5 * time.Hour, 11 * time.Hour} {
			r := newRouter(t, routerConfig())
			var all []Message
			for m := 20; m < 16*60; m++ {
				now := at(time.Duration(m) * minute)
				if now.Mono >= after {
					now.Wall = now.Wall.Add(step)
				}
				var due []Transition
				if m == 60 {
					due = []Transition{raised("a", Warning, now.Mono), raised("b", Info, now.Mono)}
				}
				all = append(all, r.Route(now, due)...)
			}
			expect(t, all, "phone first held a is bad", "phone first held b is bad",
				"phone digest waiting Held back until now: 2 things", "mail escalated waiting a is bad")
		}
	}
}

func TestARestartKeepsWhatIsHeldAndWhatWasEscalated(t *testing.T) {
	path := filepath.Join(t.TempDir(), "outbox.db")
	o := openOutbox(t, path)
	r := newRouter(t, routerConfig())
	put := func(now Instant, ts ...Transition) []Message {
		t.Helper()
		all := r.Route(now, ts)
		must(t, o.Commit(t.Context(), ts, all))
		return all
	}
	put(at(0), raised("critical", Critical, 0))
	expect(t, put(at(30*minute)), "mail escalated waiting critical is bad")
	put(at(time.Hour), raised("a", Warning, time.Hour), raised("b", Info, time.Hour))
	if got := due(t, o, dusk.Add(time.Hour)); !slices.Equal(got, []string{"critical is bad phone", "critical is bad mail"}) {
		t.Errorf("what is held is due: %v", got)
	}
	must(t, o.Close())

	o = openOutbox(t, path)
	standing, err := o.Standing(t.Context())
	must(t, err)
	c := routerConfig()
	c.Resume = standing
	r = newRouter(t, c)
	// The clock of the new run counts from nothing.
	now := func(mono time.Duration) Instant { return Instant{Wall: dusk.Add(2*time.Hour + mono), Mono: mono} }
	if got := put(now(0)); got != nil {
		t.Fatalf("told at night: %v", shown(got))
	}
	morning := 7*time.Hour + 20*minute
	got := put(now(morning))
	expect(t, got, "phone digest waiting Held back until now: 2 things")
	expect(t, put(now(morning+29*minute)))
	expect(t, put(now(morning+30*minute)), "mail escalated waiting a is bad")
	over := becomes("critical", Cleared, Critical, Ended, 10*time.Hour)
	expect(t, put(now(morning+31*minute), over), "phone cleared waiting critical is good", "mail cleared waiting critical is good")
	var statuses []string
	for _, m := range messages(t, o) {
		if m.Status != Waiting {
			statuses = append(statuses, m.Title+" "+m.Status.String())
		}
	}
	if diff := cmp.Diff([]string{"b is bad folded", "a is bad folded"}, statuses); diff != "" {
		t.Error(diff)
	}
}

func TestRouterConfigurationsThatAreRefused(t *testing.T) {
	for _, c := range []struct {
		want  string
		spoil func(*RouterConfig)
	}{
		{"time zone", func(c *RouterConfig) { c.Zone = nil }},
		{"no time of day", func(c *RouterConfig) { c.Quiet.To = 24 * time.Hour }},
		{"no time of day", func(c *RouterConfig) { c.Quiet.From = -minute }},
		{"second channel", func(c *RouterConfig) { c.Second = []string{"phone"} }},
	} {
		config := routerConfig()
		c.spoil(&config)
		if _, err := NewRouter(config); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("got %v, want %q", err, c.want)
		}
	}
}

// Whatever happens in a week, restarts included, every telling of the engine
// goes out on its own or within another message, once.
func TestNoTellingIsLostInARandomWeek(t *testing.T) {
	seed := rand.Uint64()
	random := rand.New(rand.NewPCG(seed, 0))
	o := newOutbox(t)
	r := newRouter(t, routerConfig())
	base := time.Duration(0)
	state := map[string]State{}
	telling := map[string]uint32{}
	tellings := map[string]bool{} // message IDs of the first channel
	for m := range 7 * 24 * 4 {
		mono := time.Duration(m) * 15 * minute
		id := fmt.Sprint("e", m/40, "-", random.IntN(4))
		var ts []Transition
		switch {
		case state[id] == Pending:
			ts = []Transition{raised(id, Severity(random.IntN(3)), mono)}
		case state[id] == Raised && random.IntN(2) == 0:
			ts = []Transition{becomes(id, Cleared, Info, Ended, mono)}
		case state[id] == Raised:
			ts = []Transition{becomes(id, Raised, Warning, Repeat, mono)}
		}
		for i := range ts {
			state[id] = ts[i].Episode.State
			telling[id]++
			ts[i].Episode.Told = telling[id]
			tellings[messageID(id, telling[id], "phone")] = true
		}
		must(t, o.Commit(t.Context(), ts, r.Route(Instant{Wall: dusk.Add(mono), Mono: mono - base}, ts)))
		if random.IntN(50) == 0 {
			standing, err := o.Standing(t.Context())
			must(t, err)
			c := routerConfig()
			c.Resume = standing
			r, base = newRouter(t, c), mono
		}
	}
	end := 8 * day
	must(t, o.Commit(t.Context(), nil, r.Route(Instant{Wall: dusk.Add(end), Mono: end - base}, nil)))
	for _, m := range messages(t, o) {
		delete(tellings, m.ID)
		if m.Status == Held {
			t.Errorf("seed %d: still held: %+v", seed, m)
		}
	}
	if len(tellings) > 0 {
		t.Errorf("seed %d: %d tellings are lost", seed, len(tellings))
	}
}
