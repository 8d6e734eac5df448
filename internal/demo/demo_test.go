package demo

import (
	"context"
	"log/slog"
	"math"
	"path/filepath"
	"regexp"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"recoat/internal/agent"
	"recoat/internal/shop"
	"recoat/internal/shop/schedule"
	"recoat/internal/telemetry"
	"recoat/sensors"
	"recoat/sensors/wiring"
)

// dusk is when the demo is begun.
var dusk = time.Date(2026, 3, 1, 18, 0, 0, 0, time.UTC)

var backRoom = shop.Room{ID: "back-room", Title: "Back room"}

func openJournal(t *testing.T) *shop.Journal {
	t.Helper()
	j, err := shop.OpenJournal(t.Context(), filepath.Join(t.TempDir(), "journal.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = j.Close() })
	return j
}

func simulate(t *testing.T, cfg wiring.Simulated) *wiring.Simulation {
	t.Helper()
	sim, err := wiring.Simulate(cfg)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = sim.Close() })
	return sim
}

func fill(t *testing.T, j *shop.Journal, now time.Time) []shop.Coat {
	t.Helper()
	if err := Fill(t.Context(), j, backRoom, now); err != nil {
		t.Fatal(err)
	}
	coats, err := j.OpenCoats(t.Context(), backRoom.ID)
	if err != nil {
		t.Fatal(err)
	}
	return coats
}

func TestAnEmptyJournalIsFilledOnceAndNotTwice(t *testing.T) {
	j := openJournal(t)
	coats := fill(t, j, dusk)
	if len(coats) != 2 || !coats[0].Applied.Equal(dusk.Add(-3*time.Hour)) || !coats[1].Applied.Equal(dusk.Add(-50*time.Minute)) {
		t.Fatalf("%+v", coats)
	}
	if coats[0].Part.Probe != TopProbe || coats[1].Part.Probe != DoorProbe {
		t.Errorf("the coats lie on %s and %s", coats[0].Part.Probe, coats[1].Part.Probe)
	}
	rooms, err := j.Rooms(t.Context())
	if err != nil || len(rooms) != 1 || rooms[0].Title != backRoom.Title {
		t.Errorf("%+v, %v", rooms, err)
	}
	again := fill(t, j, dusk.Add(24*time.Hour))
	if diff := cmp.Diff(coats, again); diff != "" {
		t.Errorf("filled twice: %s", diff)
	}
}

func TestAShopOfOnesOwnIsLeftAlone(t *testing.T) {
	j := openJournal(t)
	if err := j.AddRoom(t.Context(), backRoom, dusk); err != nil {
		t.Fatal(err)
	}
	if _, err := j.AddPiece(t.Context(), shop.Piece{Name: "Own stool", Parts: []shop.Part{{Name: "seat", Room: backRoom.ID}}}, dusk); err != nil {
		t.Fatal(err)
	}
	if coats := fill(t, j, dusk); len(coats) != 0 {
		t.Errorf("%+v", coats)
	}
	if p, err := j.Products(t.Context()); err != nil || len(p) != 0 {
		t.Errorf("%+v, %v", p, err)
	}
}

// The names are known by heart here, so that a new one is looked at: none may be
// anybody's. A trade mark, a registered sign or an address gives one away.
func TestEveryNameIsInvented(t *testing.T) {
	j := openJournal(t)
	fill(t, j, dusk)
	invented := []string{"Long Meadow oil stain", "Quiet Harbour colour coat", "Linen press", "doors", "top"}
	var got []string
	products, err := j.Products(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range products {
		got = append(got, p.Label.Name)
	}
	pieces, err := j.Pieces(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range pieces {
		got = append(got, p.Name)
		for _, part := range p.Parts {
			got = append(got, part.Name)
		}
	}
	if diff := cmp.Diff(invented, got); diff != "" {
		t.Error(diff)
	}
	marks := regexp.MustCompile(`[®™©@]|https?:|www\.`)
	files, err := productFiles(t)
	if err != nil || len(files) != 2 {
		t.Fatalf("%d files, %v", len(files), err)
	}
	for name, text := range files {
		if m := marks.FindString(text); m != "" {
			t.Errorf("%s holds %q", name, m)
		}
	}
}

func productFiles(t *testing.T) (map[string]string, error) {
	t.Helper()
	list, err := products.ReadDir("products")
	if err != nil {
		return nil, err
	}
	all := map[string]string{}
	for _, f := range list {
		text, err := products.ReadFile("products/" + f.Name())
		if err != nil {
			return nil, err
		}
		all[f.Name()] = string(text)
	}
	return all, nil
}

// late is how long after the room's start was reckoned it is brought up to now.
const late = 3 * time.Second

// caughtUp is what the spool of a simulated node holds after catching up.
func caughtUp(t *testing.T, seed uint64, coats []shop.Coat, from time.Time) []sensors.Round {
	t.Helper()
	cfg := Simulated(dusk)
	cfg.Seed = seed
	sim := simulate(t, cfg)
	spool := filepath.Join(t.TempDir(), "spool.db")
	const boot = "6f3c1a52-0000-4000-8000-0000000000a1"
	a, err := agent.Open(t.Context(), agent.Config{
		Room: backRoom.ID, Node: "bench", Boot: boot, Period: 10 * time.Second, Clock: Clock{Began: sim.Now()},
		Buses: sim.Buses, Spool: spool, Link: telemetry.Link{URL: "tcp://127.0.0.1:1"}, Log: slog.New(slog.DiscardHandler),
	})
	if err != nil {
		t.Fatal(err)
	}
	if err := CatchUp(t.Context(), sim, a, coats, from, dusk.Add(late)); err != nil {
		t.Fatal(err)
	}
	if err := a.Close(); err != nil {
		t.Fatal(err)
	}
	s, err := telemetry.OpenSpool(t.Context(), telemetry.SpoolConfig{Path: spool, Node: "bench", Boot: boot, MaxBytes: 1 << 20})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	entries, err := s.Pending(t.Context(), telemetry.Place{}, 10000)
	if err != nil {
		t.Fatal(err)
	}
	var rounds []sensors.Round
	for _, e := range entries {
		rounds = append(rounds, e.Round)
	}
	return rounds
}

func TestTheHistoryReachesFromPastToNow(t *testing.T) {
	rounds := caughtUp(t, 7, nil, time.Time{})
	var last time.Time
	for _, r := range rounds {
		if !r.Time.After(last) || !r.ClockSet || len(r.Readings) != 5 {
			t.Fatalf("after one of %s: %+v", last, r)
		}
		last = r.Time
		for _, x := range r.Readings {
			if x.Quality != sensors.Good {
				t.Fatalf("round %d: %+v", r.Seq, x)
			}
		}
	}
	if began := rounds[0].Time; began.Sub(dusk.Add(-Past)) > coarse || !last.Equal(dusk.Add(late)) {
		t.Errorf("from %s to %s", began, last)
	}
}

// After a restart the room is played again, and only what is not stored yet is
// sampled: that must be the end of the very same night.
func TestTheHistoryOfTheRoomIsTheSameForASeed(t *testing.T) {
	coats := fill(t, openJournal(t), dusk)
	long := caughtUp(t, 7, coats, dusk.Add(-time.Hour))
	short := caughtUp(t, 7, coats, dusk.Add(-20*time.Minute))
	if n := len(short); n == 0 || n >= len(long) || short[0].Time.Before(dusk.Add(-20*time.Minute)) {
		t.Fatalf("%d of %d rounds, the first of %s", len(short), len(long), short[0].Time)
	}
	if diff := cmp.Diff(long[len(long)-len(short):], short, cmpopts.IgnoreFields(sensors.Round{}, "Seq")); diff != "" {
		t.Errorf("the same seed: %s", diff)
	}
	if other := caughtUp(t, 8, coats, dusk.Add(-20*time.Minute)); cmp.Equal(short, other) {
		t.Error("another seed gives the same")
	}
	rh := sensors.Channel{Quantity: sensors.AirHumidity}
	dry := caughtUp(t, 7, nil, dusk)
	a, _ := short[len(short)-1].Value(rh)
	b, _ := dry[len(dry)-1].Value(rh)
	if a <= b {
		t.Errorf("fifty minutes after a waterborne coat the air has %.1f %%, without it %.1f %%", a, b)
	}
}

// A chip shows the room, not more than its self-heating and its offsets away.
func TestTheRoomRunsTrue(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		cfg := Simulated(time.Now())
		cfg.Start = time.Now()
		sim, err := wiring.Simulate(cfg)
		if err != nil {
			t.Fatal(err)
		}
		defer sim.Close()
		ctx, stop := context.WithCancel(t.Context())
		ended := make(chan error, 1)
		began := time.Now()
		go func() { ended <- Run(ctx, sim) }()
		for range 6 {
			time.Sleep(3 * time.Minute)
			synctest.Wait()
			if off := time.Since(began) - sim.Now().Sub(began); off.Abs() > 10*time.Second {
				t.Fatalf("the room's time is %s off", off)
			}
			truth, humidity := sim.Truth()
			for _, x := range sim.Read(ctx, time.Now())[0].Readings {
				switch x.Channel.Quantity {
				case sensors.AirTemperature:
					if math.Abs(x.Value-float64(truth)) > 1 {
						t.Errorf("after %s: %.1f °C, in truth %.1f °C", time.Since(began), x.Value, truth)
					}
				case sensors.AirHumidity:
					if math.Abs(x.Value-float64(humidity)) > 6 {
						t.Errorf("after %s: %.1f %%, in truth %.1f %%", time.Since(began), x.Value, humidity)
					}
				}
			}
		}
		stop()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
}

func TestTheClockOfASimulatedNodeGoesOnFromItsHistory(t *testing.T) {
	c := Clock{Began: time.Now().Add(-Past)}
	now := c.Now()
	if !now.Set || now.Uptime < Past || now.Uptime > Past+time.Minute || time.Since(now.Wall) > time.Minute {
		t.Errorf("%+v", now)
	}
}

// The doors have their first colour on, and go back when the top may be handled
// as well.
func TestTheDemoHasSchedules(t *testing.T) {
	j := openJournal(t)
	coats := fill(t, j, dusk)
	parts, err := j.Schedules(t.Context(), "p-0001")
	if err != nil || len(parts) != 2 {
		t.Fatal(parts, err)
	}
	look := func(string) (schedule.Coat, bool) { return schedule.Coat{}, false }
	next := schedule.NextSteps(parts, look, dusk)
	if len(next) != 2 || next[0].Step.ID != firstColour+1 || next[1].Step.ID != 3 || len(next[0].Waits) != 1 || next[0].Waits[0].Stage != "sandable" {
		t.Errorf("next: %+v", next)
	}
	if w := parts[0].Steps[7].Waits; len(w) != 2 || w[1].Part != 2 {
		t.Errorf("putting the doors back waits for %+v", w)
	}
	if len(coats) != 2 || coats[0].Step != 2 || coats[1].Step != firstColour {
		t.Errorf("the coats are steps %d and %d", coats[0].Step, coats[1].Step)
	}
}
