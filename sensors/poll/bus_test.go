package poll

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"recoat/sensors"
)

// beats takes rounds for as long, one every ten seconds.
func beats(t *testing.T, l *Loop, length time.Duration) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), length)
	defer cancel()
	if err := l.Run(ctx); err != nil {
		t.Fatal(err)
	}
}

func loopOver(t *testing.T, rounds *[]sensors.Round, buses ...*Bus) *Loop {
	t.Helper()
	l, err := NewLoop(LoopConfig{
		Node: "shelf", Boot: boot, First: 1, Period: 10 * time.Second,
		Clock: bubbleClock{start: time.Now(), set: true}, Buses: buses, Emit: collector(rounds),
	})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func TestABusLooksAgainEverMoreSeldom(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var looks []time.Duration
		start := time.Now()
		all := []*Guard{slow(air, 0), slow(damp, 0)}
		look := func(context.Context) []*Guard {
			looks = append(looks, time.Since(start))
			if time.Since(start) > time.Hour {
				return all
			}
			return all[:1]
		}
		var rounds []sensors.Round
		b := NewBus(BusConfig{Name: "bench", Guards: all[:1], Look: look})
		beats(t, loopOver(t, &rounds, b), 2*time.Hour)
		if looks[0] != 10*time.Second || looks[1] != 30*time.Second || looks[2] != 70*time.Second {
			t.Errorf("looked after %v, want after 10 s, 30 s, 70 s", looks[:3])
		}
		gap := time.Duration(0)
		for i, at := range looks[1:] {
			gap = max(gap, at-looks[i])
		}
		if gap != betweenLooks.longest || len(looks) > 25 {
			t.Errorf("%d looks in two hours, at most %s apart", len(looks), gap)
		}
		if _, ok := rounds[len(rounds)-1].Value(damp); !ok {
			t.Errorf("what came an hour late is not read: %+v", rounds[len(rounds)-1])
		}
		if _, ok := rounds[0].Value(damp); ok {
			t.Error("what was not there was read")
		}
	})
}

// A look that hangs costs its own bus new chips, and nobody a reading.
func TestALookThatHangsHoldsUpNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		release := make(chan struct{})
		looks := 0
		all := []*Guard{slow(air, 0)}
		b := NewBus(BusConfig{Name: "bench", Guards: all, Look: func(context.Context) []*Guard {
			looks++
			<-release
			return all
		}})
		var rounds []sensors.Round
		beats(t, loopOver(t, &rounds, b), time.Hour-time.Second)
		if looks != 1 || len(rounds) != 360 {
			t.Errorf("%d looks, %d rounds; want 1 and 360", looks, len(rounds))
		}
		for _, r := range rounds {
			if _, ok := r.Value(air); !ok {
				t.Fatalf("round %d is empty", r.Seq)
			}
		}
		close(release)
	})
}

func TestSamplingGoesOnWhileOneBusOfTheRoomComesBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		release := make(chan struct{})
		hangs := func(c sensors.Channel) *Guard {
			return NewGuard(Over(&script{[]sensors.Channel{c}, func(context.Context) ([]sensors.Reading, error) {
				<-release
				return nil, nil
			}}))
		}
		bus := func(aside bool, g *Guard) *Bus { return NewBus(BusConfig{Guards: []*Guard{g}, Aside: aside}) }
		for _, c := range []struct {
			buses []*Bus
			want  bool
		}{
			{[]*Bus{bus(false, hangs(air)), bus(false, slow(damp, 0))}, true},
			{[]*Bus{bus(false, hangs(air)), bus(true, slow(damp, 0))}, false},
			{[]*Bus{bus(false, hangs(air))}, false},
		} {
			var rounds []sensors.Round
			l := loopOver(t, &rounds, c.buses...)
			if err := l.Once(t.Context(), Instant{Wall: time.Now()}); err != nil {
				t.Fatal(err)
			}
			if l.Sampling() != c.want {
				t.Errorf("%d buses: sampling %t, want %t", len(c.buses), l.Sampling(), c.want)
			}
		}
		close(release)
	})
}
