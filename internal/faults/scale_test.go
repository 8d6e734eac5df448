package faults

import (
	"context"
	"fmt"
	"log/slog"
	"path/filepath"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"recoat/internal/alert"
	"recoat/internal/hub"
	"recoat/internal/shop"
	"recoat/internal/store/sqlite"
	"recoat/internal/telemetry"
	"recoat/sensors"
)

// quietHub is a hub on files of its own, in this process.
func quietHub(tb testing.TB, ctx context.Context) *hub.Hub {
	tb.Helper()
	folder := tb.TempDir()
	s, err := sqlite.Open(ctx, filepath.Join(folder, "readings.db"))
	if err != nil {
		tb.Fatal(err)
	}
	j, err := shop.OpenJournal(ctx, filepath.Join(folder, "journal.db"))
	if err != nil {
		tb.Fatal(err)
	}
	o, err := alert.OpenOutbox(ctx, filepath.Join(folder, "outbox.db"))
	if err != nil {
		tb.Fatal(err)
	}
	began := time.Now()
	var ids atomic.Int64
	h := hub.New(hub.Options{
		Readings: s, Journal: j, Decisions: o, Channels: []string{"phone"}, Log: slog.New(slog.DiscardHandler),
		NewID: func() string { return fmt.Sprint(ids.Add(1)) }, Batch: 100 * time.Millisecond,
		Now: func() alert.Instant { return alert.Instant{Wall: time.Now(), Mono: time.Since(began)} },
	})
	ctx, cancel := context.WithCancel(ctx)
	ended := make(chan error, 1)
	go func() { ended <- h.Run(ctx) }()
	<-h.Ready()
	tb.Cleanup(func() {
		cancel()
		for _, err := range []error{<-ended, o.Close(), j.Close(), s.Close()} {
			if err != nil {
				tb.Error(err)
			}
		}
	})
	return h
}

// fleet is nodes with rounds in their spools, a hub and a broker, all in this
// process.
type fleet struct {
	spools  []*telemetry.Spool
	waiting func() int64
}

// newFleet fills the spools of as many nodes with as many rounds each, and
// starts everything. The last node has none: it is live, and has sent its first.
func newFleet(tb testing.TB, nodes, rounds int) *fleet {
	tb.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	var running sync.WaitGroup
	h := quietHub(tb, context.Background())
	tb.Cleanup(func() { cancel(); running.Wait() })
	log := slog.New(slog.DiscardHandler)
	f := &fleet{}
	users := []telemetry.User{telemetry.HubUser("hub", "hub-secret")}
	for n := range nodes + 1 {
		name := fmt.Sprintf("node-%d", n)
		users = append(users, telemetry.AgentUser(name, "node-secret", attic, name))
		s, err := telemetry.OpenSpool(ctx, telemetry.SpoolConfig{Path: filepath.Join(tb.TempDir(), "spool.db"), Node: name, Boot: "b1", MaxBytes: 256 << 20})
		if err != nil {
			tb.Fatal(err)
		}
		tb.Cleanup(func() { _ = s.Close() })
		f.spools = append(f.spools, s)
		for seq := 1; n < nodes && seq <= rounds; seq++ {
			at := time.Now().Add(time.Duration(seq-rounds) * 10 * time.Second)
			if err := s.Append(ctx, sensors.Round{Node: name, Boot: "b1", Seq: uint64(seq), Time: at, Uptime: time.Duration(seq) * 10 * time.Second, ClockSet: true, Readings: readings(1)}); err != nil {
				tb.Fatal(err)
			}
		}
	}
	broker, err := telemetry.ListenBroker(ctx, telemetry.BrokerConfig{Addr: "127.0.0.1:0", Log: log, Users: users})
	if err != nil {
		tb.Fatal(err)
	}
	link := func(u telemetry.User) telemetry.Link {
		return telemetry.Link{URL: "tcp://" + broker.Addr().String(), User: u.Name, Password: u.Password, Retry: 50 * time.Millisecond}
	}
	receiver, err := telemetry.NewReceiver(telemetry.ReceiverConfig{Link: link(users[0]), Handle: h.Deliver, Log: log})
	if err != nil {
		tb.Fatal(err)
	}
	for _, run := range []func(context.Context) error{broker.Run, receiver.Run} {
		running.Go(func() { _ = run(ctx) })
	}
	send := func(n int, resend time.Duration) {
		u := users[n+1]
		c, err := telemetry.NewCourier(telemetry.CourierConfig{Link: link(u), Room: attic, Node: u.Name, Boot: "b1", Outbox: f.spools[n], Log: log, Resend: resend})
		if err != nil {
			tb.Fatal(err)
		}
		running.Go(func() { _ = c.Run(ctx) })
	}
	// Once a live round is through, the hub has subscribed: what came before
	// would have found nobody.
	send(nodes, time.Second)
	f.live(tb, 1)
	for n := range nodes {
		send(n, 0)
	}
	f.waiting = func() (n int64) {
		for _, s := range f.spools[:nodes] {
			if st, err := s.Stats(ctx); err == nil {
				n += st.Pending
			}
		}
		return n
	}
	return f
}

// live takes a round now and returns how long it was until the hub had it.
func (f *fleet) live(tb testing.TB, seq uint64) time.Duration {
	tb.Helper()
	s, began := f.spools[len(f.spools)-1], time.Now()
	name := fmt.Sprintf("node-%d", len(f.spools)-1)
	r := sensors.Round{Node: name, Boot: "b1", Seq: seq, Time: began, Uptime: time.Duration(seq) * time.Second, ClockSet: true, Readings: readings(1)}
	if err := s.Append(tb.Context(), r); err != nil {
		tb.Fatal(err)
	}
	for {
		st, err := s.Stats(tb.Context())
		if err != nil {
			tb.Fatal(err)
		}
		if st.Pending == 0 {
			return time.Since(began)
		}
		if time.Since(began) > 2*time.Minute {
			tb.Fatal("a live round waits for ever")
		}
		time.Sleep(2 * time.Millisecond)
	}
}

// While many nodes drain what they kept, a live one's rounds go through: some of
// them while most of the backlog still waits.
func TestALiveNodeIsHeardWhileOthersDrain(t *testing.T) {
	f := newFleet(t, 12, 300)
	const backlog = 12 * 300
	heard := 0
	for seq := uint64(2); f.waiting() > 0; seq++ {
		f.live(t, seq)
		if f.waiting() > backlog/3 {
			heard++
		}
	}
	if heard < 1 {
		t.Error("no live round went through before two thirds of the backlog had")
	}
}

// BenchmarkBacklog drains a backlog from fifty nodes and tells how long live
// rounds took meanwhile, and how long afterwards.
func BenchmarkBacklog(b *testing.B) {
	const nodes, rounds = 50, 600
	for b.Loop() {
		f := newFleet(b, nodes, rounds)
		began := time.Now()
		var busy, idle []time.Duration
		seq := uint64(2)
		for ; f.waiting() > 0; seq++ {
			busy = append(busy, f.live(b, seq))
		}
		took := time.Since(began)
		for range 10 {
			seq++
			idle = append(idle, f.live(b, seq))
		}
		slices.Sort(busy)
		slices.Sort(idle)
		b.ReportMetric(nodes*rounds/took.Seconds(), "rounds/s")
		b.ReportMetric(float64(busy[len(busy)/2].Milliseconds()), "live-ms-median")
		b.ReportMetric(float64(busy[len(busy)-1].Milliseconds()), "live-ms-worst")
		b.ReportMetric(float64(idle[len(idle)/2].Milliseconds()), "idle-ms-median")
	}
}
