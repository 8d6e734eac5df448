package alert

import (
	"fmt"
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
