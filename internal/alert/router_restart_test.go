package alert

import (
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

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
