package room

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"recoat/internal/alert"
	"recoat/sensors"
)

// but leaves out when a node was heard and what was told on the way: both hang
// on when rounds come, as they should.
var but = cmp.Options{
	cmpopts.IgnoreFields(Snapshot{}, "Alerts"),
	cmpopts.IgnoreFields(NodeNow{}, "Heard"),
	courses,
}

// courses leaves out the forecast's courses: the dew margins drawn from them
// are compared.
var courses = cmpopts.IgnoreFields(Snapshot{}, "Ahead")

// twoNodes is three hours of two nodes that do not agree, with a gap, two
// probes, a foreign device and readings that are not good.
func twoNodes(rng *rand.Rand) []sensors.Round {
	var all []sensors.Round
	for d := time.Duration(0); d <= 3*time.Hour; d += 20 * time.Second {
		if d > time.Hour && d < 100*time.Minute {
			continue
		}
		sway := rng.Float64()
		all = append(all,
			ours("bench", d, warm(19+sway), damp(50+5*sway), surfaceAt("p1", 17+sway)),
			ours("loft", d+time.Second, warm(24-sway), as(sensors.Quality(rng.IntN(5)), damp(40+sway)), surfaceAt("p1", 12), surfaceAt("p2", 16+sway)))
		if rng.IntN(9) == 0 {
			all = append(all, sensors.Round{
				Node: "mast", ClockSet: true, Time: evening.Add(d + 2*time.Second),
				Readings: []sensors.Reading{reading(sensors.AirPressure, "", 100000+100*sway)},
			})
		}
	}
	return all
}

// The proof is the room itself, fed with the same rounds as they came.
func TestTheSameRoundsInAnyOrderGiveTheSameSnapshot(t *testing.T) {
	const end = 3*time.Hour + 2*time.Minute // coats are reckoned once a minute
	rounds := twoNodes(rand.New(rand.NewPCG(1, 2)))
	live := newRoom()
	live.follow(job(t, "c-0001", 10*time.Minute, "p1"), job(t, "c-0002", 0, ""))
	for _, r := range rounds {
		live.hear(r.Time.Sub(evening), r)
	}
	live.tick(end)
	want := live.Snapshot()
	if want.Air == nil || len(want.Surfaces) != 2 || len(want.Coats) != 2 || want.Coats[0].Estimates[0].Done == 0 {
		t.Fatalf("the night tells too little to compare: %+v", want)
	}
	for seed := range uint64(4) {
		rng := rand.New(rand.NewPCG(seed, 3))
		mixed := append(rounds[:len(rounds):len(rounds)], rounds[:len(rounds)/2]...) // half of them twice
		rng.Shuffle(len(mixed), func(i, j int) { mixed[i], mixed[j] = mixed[j], mixed[i] })
		w := newRoom()
		w.follow(job(t, "c-0001", 10*time.Minute, "p1"), job(t, "c-0002", 0, ""))
		for _, r := range mixed {
			w.hear(end, r)
		}
		w.tick(end)
		if diff := cmp.Diff(want, w.Snapshot(), but); diff != "" {
			t.Errorf("seed %d: %s", seed, diff)
		}
	}
}

func TestARoomBroughtUpFromTheStoreStandsAsItStood(t *testing.T) {
	const end = 3*time.Hour + 2*time.Minute // coats are reckoned once a minute
	live, again := newRoom(), newRoom()
	again.follow(job(t, "c-0001", 0, "p1"))
	live.follow(job(t, "c-0001", 0, "p1"))
	for _, r := range twoNodes(rand.New(rand.NewPCG(4, 5))) {
		live.hear(r.Time.Sub(evening), r)
		if effects := again.Step(Recalled{r}); effects != nil {
			t.Fatalf("history alone has the effects %v", effects)
		}
	}
	live.tick(end)
	again.tick(end)
	a, b := live.Snapshot(), again.Snapshot()
	if diff := cmp.Diff(a.Coats, b.Coats); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff(a.Margin, b.Margin); diff != "" {
		t.Error(diff)
	}
	if b.Air != nil || len(b.Surfaces) != 0 {
		t.Error("what the store remembers counts as the present")
	}
}

// Backlog comes with its own clock set, or with one that nobody set but that
// agreed with the hub's before.
func TestABacklogIsHistoryAndNeverThePresent(t *testing.T) {
	for name, clockSet := range map[string]bool{"clock set": true, "clock not set": false} {
		t.Run(name, func(t *testing.T) {
			w := newRoom()
			w.follow(job(t, "c-0001", 0, ""))
			said := func(d time.Duration, readings ...sensors.Reading) sensors.Round {
				r := ours("bench", d, readings...)
				r.ClockSet = clockSet
				return r
			}
			w.hear(0, said(0, warm(20), damp(50)))
			const back = 2 * time.Hour // the network is there again
			w.tick(back)
			if s := w.Snapshot(); s.Air != nil {
				t.Fatal("two hours on, the air is still known")
			}
			before := w.estimate(t, "c-0001", told[0])
			for d := time.Minute; d < back-6*time.Minute; d += time.Minute {
				w.hear(back+d/100, said(d, warm(8), damp(96)))
				if s := w.Snapshot(); s.Air != nil {
					t.Fatalf("the air of %s ago is shown as that of now: %+v", back-d, s.Air)
				}
			}
			w.hear(back+2*time.Minute, said(back+2*time.Minute, warm(20), damp(50)))
			w.tick(back + 3*time.Minute)
			s := w.Snapshot()
			if s.Air == nil || s.Air.Air != 20 {
				t.Errorf("the present is %+v", s.Air)
			}
			if got := w.heard("unfit"); len(got) != 0 {
				t.Errorf("an hour that is over raised %v", got)
			}
			after := w.estimate(t, "c-0001", told[0])
			if after.Uncovered > 10*time.Minute || before.Uncovered < time.Hour {
				t.Errorf("the gap was %s, and is %s once it is filled", before.Uncovered, after.Uncovered)
			}
		})
	}
}

func TestForeignMessagesWithOneChannelEachMakeOnePresent(t *testing.T) {
	w := newRoom()
	send := func(d time.Duration, x sensors.Reading) {
		w.hear(d, sensors.Round{Node: "mast", ClockSet: true, Time: evening.Add(d), Readings: []sensors.Reading{x}})
	}
	send(0, warm(21))
	if w.Snapshot().Air != nil {
		t.Error("a temperature alone makes no air")
	}
	send(time.Second, damp(60))
	send(2*time.Second, surfaceAt("p1", 15))
	s := w.Snapshot()
	if s.Air == nil || s.Air.Air != 21 || s.Air.Humidity != 60 || len(s.Surfaces) != 1 {
		t.Fatalf("of three messages is known %+v and %+v", s.Air, s.Surfaces)
	}
	w.hear(3*time.Second, sensors.Round{Node: "mast", ClockSet: true, Time: evening.Add(-time.Minute), Readings: []sensors.Reading{warm(5)}})
	if a := w.Snapshot().Air; a == nil || a.Air != 21 {
		t.Errorf("a message that was overtaken is the present: %+v", a)
	}
	for d := time.Minute; d < 20*time.Minute; d += time.Minute {
		send(d, damp(60)) // the temperature stops
	}
	if w.Snapshot().Air != nil {
		t.Error("a temperature of long ago is part of the air now")
	}
	if diff := cmp.Diff([]string{"mute mast/air-temperature first", "mute mast/surface-temperature:p1 first"}, w.heard("mute")); diff != "" {
		t.Error(diff)
	}
}

func TestTickMovesTimeAlone(t *testing.T) {
	w := newRoom()
	w.tick(0)
	w.do(Tick{alert.Instant{Wall: evening.Add(-time.Hour), Mono: time.Minute}}) // the clock was set back
	if s := w.Snapshot(); !s.At.Equal(evening.Add(-time.Hour)) || len(w.told) != 0 {
		t.Errorf("at %s: %v", s.At, w.told)
	}
}
