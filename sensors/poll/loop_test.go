package poll

import (
	"context"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/sensors"
)

// bubbleClock counts from its start by the time of the test's bubble.
type bubbleClock struct {
	start time.Time
	set   bool
}

func (c bubbleClock) Now() Instant {
	return Instant{Wall: time.Now(), Uptime: time.Since(c.start), Set: c.set}
}

const boot = "5f1c4f0e-3a52-4f7e-9d5b-0c1b2a3d4e5f"

func collector(rounds *[]sensors.Round) func(context.Context, sensors.Round) {
	return func(_ context.Context, r sensors.Round) { *rounds = append(*rounds, r) }
}

// on hangs guards on one bus.
func on(guards ...*Guard) []*Bus { return []*Bus{NewBus(BusConfig{Name: "bench", Guards: guards})} }

func slow(c sensors.Channel, takes time.Duration) *Guard {
	return NewGuard(Over(&script{[]sensors.Channel{c}, func(context.Context) ([]sensors.Reading, error) {
		time.Sleep(takes)
		return []sensors.Reading{{Channel: c, Value: 20}}, nil
	}}))
}

func TestSlowSourcesDoNotShiftThePeriodNorEachOther(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var rounds []sensors.Round
		// One is quick, one takes most of the period, one more than it.
		guards := []*Guard{slow(air, 0), slow(damp, 800*time.Millisecond), slow(surface, 1300*time.Millisecond)}
		l, err := NewLoop(LoopConfig{
			Node: "shelf", Boot: boot, First: 41, Period: time.Second,
			Clock: bubbleClock{start: time.Now(), set: true}, Buses: on(guards...), Emit: collector(&rounds),
		})
		if err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithTimeout(t.Context(), 9950*time.Millisecond)
		defer cancel()
		if err := l.Run(ctx); err != nil {
			t.Errorf("Run: %v", err)
		}
		if len(rounds) != 10 {
			t.Fatalf("%d rounds in 9.95 s, want 10", len(rounds))
		}
		for i, r := range rounds {
			if r.Uptime != time.Duration(i)*time.Second || r.Seq != uint64(41+i) {
				t.Errorf("round %d is number %d at %s", i, r.Seq, r.Uptime)
			}
			if _, ok := r.Value(air); !ok {
				t.Errorf("round %d lacks the quick source", i)
			}
			if _, ok := r.Value(damp); !ok {
				t.Errorf("round %d lacks the slow source", i)
			}
			if got := r.Readings[2]; got.Quality != sensors.Missing {
				t.Errorf("round %d holds a value that came too late: %v", i, got)
			}
		}
		time.Sleep(2 * time.Second) // for the last late read to end
	})
}

func TestOnceFillsInTheRound(t *testing.T) {
	var rounds []sensors.Round
	l, err := NewLoop(LoopConfig{
		Node: "shelf", Boot: boot, First: 7, Period: time.Minute, Clock: SystemClock{},
		Buses: on(slow(air, 0)), Emit: collector(&rounds),
	})
	if err != nil {
		t.Fatal(err)
	}
	at := time.Date(2026, 3, 1, 23, 0, 0, 123456789, time.FixedZone("", 3600))
	if err := l.Once(t.Context(), Instant{Wall: at, Uptime: 90 * time.Second}); err != nil {
		t.Fatal(err)
	}
	want := []sensors.Round{{
		Node: "shelf", Boot: boot, Seq: 7, Time: time.Date(2026, 3, 1, 22, 0, 0, 123e6, time.UTC), Uptime: 90 * time.Second,
		Readings: []sensors.Reading{{Channel: air, Value: 20}},
	}}
	if diff := cmp.Diff(want, rounds); diff != "" {
		t.Errorf("want -, got +\n%s", diff)
	}
	if zone := rounds[0].Time.Location(); zone != time.UTC {
		t.Errorf("the time is in %v, want UTC", zone)
	}
	if h := l.Health(); len(h) != 1 || !h[0].OK || !h[0].LastGood.Equal(at) {
		t.Errorf("health is %+v", h)
	}
}

func TestARoundCutShortIsNotEmittedAndUsesNoNumber(t *testing.T) {
	var rounds []sensors.Round
	l, err := NewLoop(LoopConfig{
		Node: "shelf", Boot: boot, First: 1, Period: time.Minute, Clock: SystemClock{},
		Buses: on(slow(air, 0)), Emit: collector(&rounds),
	})
	if err != nil {
		t.Fatal(err)
	}
	over, cancel := context.WithCancel(t.Context())
	cancel()
	if err := l.Once(over, Instant{}); err == nil || len(rounds) != 0 {
		t.Errorf("error %v, %d rounds", err, len(rounds))
	}
	if err := l.Once(t.Context(), Instant{}); err != nil || len(rounds) != 1 || rounds[0].Seq != 1 {
		t.Errorf("error %v, rounds %v", err, rounds)
	}
}

func TestLoopCountsStuckSources(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		release := make(chan struct{})
		hangs := func(c sensors.Channel) *Guard {
			return NewGuard(Over(&script{[]sensors.Channel{c}, func(context.Context) ([]sensors.Reading, error) {
				<-release
				return nil, nil
			}}))
		}
		l, err := NewLoop(LoopConfig{
			Node: "shelf", Boot: boot, First: 1, Period: 10 * time.Second, Clock: SystemClock{},
			Buses: on(hangs(air), slow(damp, 0), hangs(surface)),
			Emit:  func(context.Context, sensors.Round) {},
		})
		if err != nil {
			t.Fatal(err)
		}
		for range 20 {
			if err := l.Once(t.Context(), Instant{Wall: time.Now()}); err != nil {
				t.Fatal(err)
			}
		}
		if n := l.Stuck(); n != 2 {
			t.Errorf("%d are stuck, want 2", n)
		}
		if ok := slices.IndexFunc(l.Health(), func(h sensors.Health) bool { return h.OK }); ok != 1 {
			t.Errorf("health is %+v", l.Health())
		}
		close(release)
	})
}

func TestNewLoopSaysWhatIsWrong(t *testing.T) {
	good := LoopConfig{
		Node: "shelf", Boot: boot, First: 1, Period: time.Second, Clock: SystemClock{},
		Buses: on(slow(air, 0)), Emit: func(context.Context, sensors.Round) {},
	}
	if _, err := NewLoop(good); err != nil {
		t.Fatal(err)
	}
	table := []struct {
		alter func(*LoopConfig)
		says  string
	}{
		{func(c *LoopConfig) { c.Node = "" }, "name"},
		{func(c *LoopConfig) { c.Boot = "" }, "name"},
		{func(c *LoopConfig) { c.First = 0 }, "from 1"},
		{func(c *LoopConfig) { c.Period = 0 }, "period"},
		{func(c *LoopConfig) { c.Clock = nil }, "clock"},
		{func(c *LoopConfig) { c.Emit = nil }, "taker"},
		{func(c *LoopConfig) { c.Buses = nil }, "no source"},
		{func(c *LoopConfig) { c.Buses = on(slow(air, 0), slow(air, 0)) }, "both give air-temperature"},
	}
	for _, c := range table {
		bad := good
		c.alter(&bad)
		if _, err := NewLoop(bad); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%v; want an error on %q", err, c.says)
		}
	}
}

// The judge sees each round once, whole and in order, at the machine's own time,
// and what it says goes out.
func TestTheJudgesWordGoesOut(t *testing.T) {
	var rounds []sensors.Round
	var seen []time.Duration
	l, err := NewLoop(LoopConfig{
		Node: "shelf", Boot: boot, First: 1, Period: time.Minute, Clock: SystemClock{},
		Buses: on(slow(air, 0), slow(damp, 0)), Emit: collector(&rounds),
		Judge: func(uptime time.Duration, readings []sensors.Reading) []sensors.Reading {
			seen = append(seen, uptime)
			judged := slices.Clone(readings)
			judged[1].Quality = sensors.Suspect
			return judged
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, uptime := range []time.Duration{90 * time.Second, 150 * time.Second} {
		if err := l.Once(t.Context(), Instant{Uptime: uptime}); err != nil {
			t.Fatal(err)
		}
	}
	over, cancel := context.WithCancel(t.Context())
	cancel()
	if err := l.Once(over, Instant{Uptime: time.Hour}); err == nil {
		t.Error("a round cut short is no error")
	}
	if want := []time.Duration{90 * time.Second, 150 * time.Second}; !slices.Equal(seen, want) {
		t.Errorf("the judge was asked at %v, want %v", seen, want)
	}
	for _, r := range rounds {
		if want := []sensors.Reading{{Channel: air, Value: 20}, {Channel: damp, Value: 20, Quality: sensors.Suspect}}; !slices.Equal(r.Readings, want) {
			t.Errorf("round %d: %v, want %v", r.Seq, r.Readings, want)
		}
	}
}
