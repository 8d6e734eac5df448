package agent

import (
	"context"
	"fmt"
	"log/slog"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/internal/alert"
	"recoat/internal/hub"
	"recoat/internal/shop"
	"recoat/internal/store"
	"recoat/internal/store/sqlite"
	"recoat/internal/telemetry"
	"recoat/sensors"
	"recoat/sensors/poll"
)

// night is eight hours of a node, its broker, the hub and the store, all real, in
// a time that only the test moves.
type night struct {
	*testing.T
	behind time.Duration // the node's clock, until it is set

	mu  sync.Mutex
	now time.Time // in truth

	store  *sqlite.Store
	outbox *alert.Outbox
	hub    *hub.Hub
	agent  *Agent
	stops  []func()
}

const (
	nightStep = 4 * time.Minute
	nightLong = 8 * time.Hour
	earlier   = "6f3c1a52-0000-4000-8000-000000000000" // a boot before the night's
)

// label is an invented product, as its label states it.
const label = `
name = "Orchard Street test coat"
family = "waterborne"
[stated]
air = "23C"
rh = 50
film = "100um"
touch = "30m"
recoat = "2h40m"
handle = "12h"
cure = "21d"
[limits]
rh_max = 85
`

func (n *night) truth() time.Time {
	n.mu.Lock()
	defer n.mu.Unlock()
	return n.now
}

// Now is the node's clock before it is set.
func (n *night) Now() poll.Instant {
	now := n.truth()
	return poll.Instant{Wall: now.Add(-n.behind), Uptime: now.Sub(dusk) + time.Minute, Set: n.behind == 0}
}

func (n *night) Name() string { return "night" }
func (n *night) Channels() []sensors.Channel {
	return append(steady{}.Channels(), sensors.Channel{Quantity: sensors.SurfaceTemperature, Probe: "28-1"})
}

// Read is of a room that is too damp to coat in from 21:00 to 23:00.
func (n *night) Read(context.Context) ([]sensors.Reading, error) {
	at := n.truth().Sub(dusk)
	rh := 55 + at.Hours()
	if at >= 3*time.Hour && at < 5*time.Hour {
		rh = 96
	}
	var all []sensors.Reading
	for i, v := range []float64{20 - at.Hours()/2, rh, 18 - at.Hours()/2} {
		all = append(all, sensors.Reading{Channel: n.Channels()[i], Value: v})
	}
	return all, nil
}

// begin starts everything but the node's courier.
func (n *night) begin() {
	n.Helper()
	n.now = dusk
	folder, log := n.TempDir(), slog.New(slog.NewTextHandler(n.Output(), nil))
	link := n.broker(log)
	must := func(err error) {
		n.Helper()
		if err != nil {
			n.Fatal(err)
		}
	}
	var err error
	n.store, err = sqlite.Open(n.Context(), filepath.Join(folder, "readings.db"))
	must(err)
	n.outbox, err = alert.OpenOutbox(n.Context(), filepath.Join(folder, "outbox.db"))
	must(err)
	journal := n.furnish(filepath.Join(folder, "journal.db"))
	id := 0
	n.hub = hub.New(hub.Options{
		Readings: n.store, Journal: journal, Decisions: n.outbox, Channels: []string{"phone"}, Log: log,
		NewID: func() string { id++; return fmt.Sprintf("e%d", id) },
		Now: func() alert.Instant {
			now := n.truth()
			return alert.Instant{Wall: now, Mono: now.Sub(dusk)}
		},
		Tick: 5 * time.Millisecond, Batch: time.Millisecond,
	})
	n.run(n.hub.Run)
	<-n.hub.Ready()
	receiver, err := telemetry.NewReceiver(telemetry.ReceiverConfig{
		Link: link("hub", "alder"), Handle: n.hub.Deliver, HandleState: n.hub.Report, Log: log,
	})
	must(err)
	n.run(receiver.Run)

	cfg, _ := config(folder)
	cfg.Boot = earlier // whose clock was never set, and never will be
	old := open(n.T, cfg)
	for i := range 5 {
		once(n.T, old, dusk.Add(-n.behind-time.Hour), time.Duration(i+1)*time.Minute, n.behind == 0)
	}
	must(old.Close())
	cfg.Boot, cfg.Clock, cfg.Link, cfg.Log = boot, n, link("node", "birch"), log
	cfg.Buses = []*poll.Bus{poll.NewBus(poll.BusConfig{Guards: []*poll.Guard{poll.NewGuard(poll.Over(n))}})}
	n.agent = open(n.T, cfg)
	n.Cleanup(func() {
		for _, stop := range slices.Backward(n.stops) {
			stop()
		}
		_ = n.outbox.Close()
		_ = journal.Close()
		_ = n.store.Close()
	})
}

func (n *night) broker(log *slog.Logger) (link func(user, password string) telemetry.Link) {
	n.Helper()
	users := []telemetry.User{telemetry.HubUser("hub", "alder"), telemetry.AgentUser("node", "birch", "back-room", "bench")}
	broker, err := telemetry.ListenBroker(n.Context(), telemetry.BrokerConfig{Addr: "127.0.0.1:0", Users: users, Log: log})
	if err != nil {
		n.Fatal(err)
	}
	n.run(broker.Run)
	return func(user, password string) telemetry.Link {
		return telemetry.Link{URL: "tcp://" + broker.Addr().String(), User: user, Password: password, Retry: 50 * time.Millisecond}
	}
}

// furnish puts a coat on a table at dusk.
func (n *night) furnish(path string) *shop.Journal {
	n.Helper()
	j, err := shop.OpenJournal(n.Context(), path)
	if err != nil {
		n.Fatal(err)
	}
	p, err := shop.LoadProduct(strings.NewReader(label), "label")
	if err != nil {
		n.Fatal(err)
	}
	product, err := j.PutProduct(n.Context(), p, dusk)
	if err != nil {
		n.Fatal(err)
	}
	if err := j.AddRoom(n.Context(), shop.Room{ID: "back-room", Title: "Back room"}, dusk); err != nil {
		n.Fatal(err)
	}
	piece, err := j.AddPiece(n.Context(), shop.Piece{Name: "Hall table", Parts: []shop.Part{{Name: "top", Room: "back-room", Probe: "28-1"}}}, dusk)
	if err != nil {
		n.Fatal(err)
	}
	if _, err := j.ApplyCoat(n.Context(), shop.Application{Part: piece.Parts[0].ID, Product: product.ID, Applied: dusk, Film: 100}, dusk); err != nil {
		n.Fatal(err)
	}
	return j
}

// run runs something until the night is over.
func (n *night) run(run func(context.Context) error) {
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- run(ctx) }()
	n.stops = append(n.stops, func() {
		cancel()
		if err := <-ended; err != nil {
			n.Errorf("it ended with %v", err)
		}
	})
}

// pass moves time on by a step, takes a round, and lets it arrive if the node has
// its network already.
func (n *night) pass(online bool) {
	n.Helper()
	n.mu.Lock()
	n.now = n.now.Add(nightStep)
	n.mu.Unlock()
	if err := n.agent.Once(n.Context(), n.Now()); err != nil {
		n.Fatal(err)
	}
	if online {
		n.arrive()
	}
}

// arrive waits until the hub has every round, and has ticked since.
func (n *night) arrive() {
	n.Helper()
	waitFor(n.T, 5*patience, "the hub has every round", func() bool {
		st, err := n.agent.spool.Stats(n.Context())
		return err == nil && st.Pending == 0
	})
	turns := n.hub.Turns()
	wait(n.T, "the hub ticks", func() bool { return n.hub.Turns() > turns+1 })
}

// through goes through the night: without a network for three hours, and with a
// clock that is set after six.
func (n *night) through() {
	for n.truth().Before(dusk.Add(nightLong)) {
		at := n.truth().Sub(dusk)
		if at == 3*time.Hour {
			n.run(n.agent.courier.Run)
		}
		if at == 6*time.Hour {
			n.behind = 0
		}
		n.pass(at >= 3*time.Hour)
	}
	// Corrections settle once none has followed for a while.
	for range 10 {
		n.pass(true)
	}
}

// kept is every round of a boot in the store, by when it was taken.
func (n *night) kept(of string) []sensors.Round {
	n.Helper()
	var all []sensors.Round
	q := store.Query{Room: "back-room", From: time.Unix(0, 0), To: dusk.Add(365 * 24 * time.Hour)}
	if err := n.store.Rounds(n.Context(), q, func(r sensors.Round) error {
		if r.Boot == of {
			all = append(all, r)
		}
		return nil
	}); err != nil {
		n.Fatal(err)
	}
	return all
}

// told is what the phone was told, in order.
func (n *night) told() []string {
	n.Helper()
	messages, err := n.outbox.Messages(n.Context(), 1000)
	if err != nil {
		n.Fatal(err)
	}
	var all []string
	for _, m := range messages {
		all = append(all, fmt.Sprintf("%s %s %s", m.Key.Rule, m.Key.Subject, m.Cause))
	}
	slices.Sort(all)
	return all
}

// The node boots 90 days behind, hears of the true time after six hours, and its
// night ends up as that of a node whose clock was right: at its true times, once,
// in order, and told of once.
func TestANightBegunNinetyDaysBehind(t *testing.T) {
	right, wrong := &night{T: t}, &night{T: t, behind: 90 * 24 * time.Hour}
	for _, n := range []*night{right, wrong} {
		n.begin()
		n.through()
	}
	want, got := right.kept(boot), wrong.kept(boot)
	if diff := cmp.Diff(want, got); diff != "" || len(want) != int(nightLong/nightStep)+10 {
		t.Errorf("%d rounds, want -, got +\n%s", len(want), diff)
	}
	for i, r := range got {
		if at := dusk.Add(time.Duration(i+1) * nightStep); !r.Time.Equal(at) || r.Seq != uint64(i+1) || !r.ClockSet {
			t.Errorf("round %d of the store is number %d of %s, set %t; want %s", i, r.Seq, r.Time, r.ClockSet, at)
		}
	}
	for _, r := range wrong.kept(earlier) {
		if r.ClockSet || !r.Time.Equal(dusk.Add(-90*24*time.Hour-time.Hour)) {
			t.Errorf("a round of an earlier boot was given the time %s, set %t", r.Time, r.ClockSet)
		}
	}
	if n := len(wrong.kept(earlier)); n != 5 {
		t.Errorf("%d rounds of an earlier boot, want 5", n)
	}
	told := wrong.told()
	if again := slices.Compact(slices.Clone(told)); len(again) != len(told) {
		t.Errorf("told more than once: %v", told)
	}
	// What a right clock would have told is told. Beside it, that the clock was not
	// set, and what follows from three hours that nobody could date: the film did
	// not count as dried by the time the damp came.
	for _, m := range right.told() {
		if !slices.Contains(told, m) {
			t.Errorf("%s is not told: %v", m, told)
		}
	}
	follows := []string{"clock bench", "stalled c-0001", "condensation c-0001"}
	for _, m := range told {
		if !slices.Contains(right.told(), m) && !slices.ContainsFunc(follows, func(f string) bool { return strings.HasPrefix(m, f) }) {
			t.Errorf("%s is told, and was not with a right clock: %v", m, right.told())
		}
	}
	if !slices.Contains(told, "ready c-0001/dry-to-recoat first") || !slices.Contains(told, "clock bench first") {
		t.Errorf("told %v", told)
	}
}
