package hub

import (
	"context"
	"fmt"
	"log/slog"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"recoat/internal/alert"
	"recoat/internal/shop"
	"recoat/internal/store"
	"recoat/internal/telemetry"
	"recoat/sensors"
)

// A thousand channels: so many rooms, with a node of so many sensors each.
const (
	manyRooms   = 40
	manySensors = 25
)

// phone says when each try of a message began.
type phone struct{ tries chan try }

type try struct {
	room  string
	cause alert.Cause
	began time.Time
}

func (*phone) Name() string { return "phone" }

func (p *phone) Send(_ context.Context, m alert.Message) error {
	p.tries <- try{m.Key.Room, m.Cause, time.Now()}
	return nil
}

// await passes over tries until the one of a room for a cause.
func (p *phone) await(room string, cause alert.Cause) time.Time {
	for t := range p.tries {
		if t.room == room && t.cause == cause {
			return t.began
		}
	}
	return time.Time{}
}

func manyRound(seq uint64) sensors.Round {
	r := round(seq, 20, 50)
	for i := range manySensors - 2 {
		r.Readings = append(r.Readings, sensors.Reading{Channel: sensors.Channel{Quantity: sensors.SurfaceTemperature, Probe: fmt.Sprintf("p%02d", i)}, Value: 19})
	}
	return r
}

// sinceHeard lets every node fall silent, then brings one after the other back
// while all that are back go on sending, and returns how long each message took
// from its reading to its first try.
func sinceHeard(ctx context.Context, tb testing.TB, folder string) []time.Duration {
	outbox, err := alert.OpenOutbox(ctx, filepath.Join(folder, "outbox.db"))
	if err != nil {
		tb.Fatal(err)
	}
	j, err := shop.OpenJournal(ctx, filepath.Join(folder, "journal.db"))
	if err != nil {
		tb.Fatal(err)
	}
	began, n := time.Now(), 0
	h := New(Options{
		Readings: store.NewMemory(), Journal: j, Decisions: outbox, Channels: []string{"phone"}, Tick: 100 * time.Millisecond,
		SilentAfter: 5 * time.Second, Log: slog.New(slog.DiscardHandler),
		NewID: func() string { n++; return fmt.Sprintf("e%d", n) },
		Now:   func() alert.Instant { return alert.Instant{Wall: time.Now(), Mono: time.Since(began)} },
	})
	p := &phone{tries: make(chan try, 100*manyRooms)}
	courier, err := alert.NewCourier(alert.CourierConfig{Outbox: outbox, Channels: []alert.Channel{p}, Log: slog.New(slog.DiscardHandler), Now: time.Now, Jitter: func() float64 { return 0 }})
	if err != nil {
		tb.Fatal(err)
	}
	ctx, cancel := context.WithCancel(ctx)
	var running sync.WaitGroup
	for _, run := range []func(context.Context) error{h.Run, courier.Run} {
		running.Go(func() { _ = run(ctx) })
	}
	defer func() {
		cancel()
		running.Wait()
		_, _ = outbox.Close(), j.Close()
	}()
	<-h.Ready()
	names, seq := make([]string, manyRooms), uint64(0)
	for i := range names {
		names[i] = fmt.Sprintf("room-%02d", i)
	}
	deliver := func(rooms []string) time.Time {
		var at time.Time
		for seq++; len(rooms) > 0; rooms = rooms[1:] {
			at = time.Now()
			h.Deliver(telemetry.Delivery{Room: rooms[0], Node: "bench", Rounds: []sensors.Round{manyRound(seq)}, Stored: func() {}})
		}
		return at
	}
	deliver(names)
	silent := map[string]bool{}
	for t := range p.tries {
		if silent[t.room] = silent[t.room] || t.cause == alert.First; len(silent) == manyRooms {
			break
		}
	}
	var took []time.Duration
	for i, name := range names {
		at := deliver(names[:i+1]) // the last of them is back
		took = append(took, p.await(name, alert.Ended).Sub(at))
	}
	slices.Sort(took)
	return took
}

// Nothing waits between a reading and the try of what it tells: in a bubble
// whose clock moves only when everybody waits for it, the clock does not move.
func TestNoTimerStandsBetweenAReadingAndItsMessage(t *testing.T) {
	folder := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		time.Sleep(time.Until(evening))
		took := sinceHeard(t.Context(), t, folder)
		if len(took) != manyRooms {
			t.Errorf("%d rooms were told of, want %d", len(took), manyRooms)
		}
		for _, d := range took {
			if d != 0 {
				t.Fatalf("a message waited %s for a timer", d)
			}
		}
	})
}

// BenchmarkReadingToAttempt prints how long a message takes from its reading to
// the first try, on a thousand channels heard at once.
func BenchmarkReadingToAttempt(b *testing.B) {
	var all []time.Duration
	for b.Loop() {
		all = append(all, sinceHeard(b.Context(), b, b.TempDir())...)
	}
	slices.Sort(all)
	b.ReportMetric(all[len(all)*99/100].Seconds(), "p99-s")
	b.ReportMetric(all[len(all)/2].Seconds(), "median-s")
}
