package agent

import (
	"context"
	"log/slog"
	"slices"
	"sync"
	"testing"
	"time"

	"recoat/internal/telemetry"
	"recoat/sensors"
	"recoat/sensors/poll"
)

// start runs something until the test ends.
func start(t *testing.T, run func(context.Context) error) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- run(ctx) }()
	t.Cleanup(func() {
		cancel()
		select {
		case err := <-ended:
			if err != nil {
				t.Errorf("it ended with %v", err)
			}
		case <-time.After(patience):
			t.Error("it did not end")
		}
	})
}

// wait waits for what other goroutines bring about.
func wait(t *testing.T, what string, done func() bool) {
	t.Helper()
	waitFor(t, patience, what, done)
}

// waitFor waits for as long.
func waitFor(t *testing.T, patience time.Duration, what string, done func() bool) {
	t.Helper()
	for end := time.Now().Add(patience); !done(); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("not within %s: %s", patience, what)
		}
	}
}

// kept is the hub's side: it holds the newest version of every round.
type kept struct {
	mu     sync.Mutex
	rounds map[uint64]sensors.Round
	unsent []uint64 // came without being in the spool
	over   bool     // nobody looks any more
}

func (k *kept) all(good func(sensors.Round) bool, n int) bool {
	k.mu.Lock()
	defer k.mu.Unlock()
	found := 0
	for _, r := range k.rounds {
		if good(r) {
			found++
		}
	}
	return found == n
}

// between starts a real broker and receiver, and returns how an agent reaches
// them. Before a delivery is acknowledged, look is asked for the spool.
func between(t *testing.T, k *kept, look func() []uint64) telemetry.Link {
	t.Helper()
	log := slog.New(slog.NewTextHandler(t.Output(), nil))
	hub, node := telemetry.HubUser("hub", "alder"), telemetry.AgentUser("agent", "birch", "back-room", "bench")
	broker, err := telemetry.ListenBroker(t.Context(), telemetry.BrokerConfig{Addr: "127.0.0.1:0", Users: []telemetry.User{hub, node}, Log: log})
	if err != nil {
		t.Fatal(err)
	}
	start(t, broker.Run)
	url := "tcp://" + broker.Addr().String()
	receiver, err := telemetry.NewReceiver(telemetry.ReceiverConfig{
		Link: telemetry.Link{URL: url, User: hub.Name, Password: hub.Password, Retry: 50 * time.Millisecond}, Log: log,
		Handle: func(d telemetry.Delivery) {
			k.mu.Lock()
			defer k.mu.Unlock()
			if k.over {
				return
			}
			waiting := look()
			for _, r := range d.Rounds {
				if _, again := k.rounds[r.Seq]; !again && !slices.Contains(waiting, r.Seq) {
					k.unsent = append(k.unsent, r.Seq)
				}
				k.rounds[r.Seq] = r
			}
			d.Stored()
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	start(t, receiver.Run)
	return telemetry.Link{URL: url, User: node.Name, Password: node.Password, Retry: 50 * time.Millisecond}
}

// rounding is how far a time that was reckoned anew may be off: the spool keeps
// whole milliseconds, of the time and of the uptime.
const rounding = 2 * time.Millisecond

// turning is a clock that somebody sets.
type turning struct {
	mu    sync.Mutex
	began time.Time
	off   time.Duration
	set   bool
}

func (c *turning) Now() poll.Instant {
	c.mu.Lock()
	defer c.mu.Unlock()
	now := time.Now()
	return poll.Instant{Wall: now.Add(c.off), Uptime: now.Sub(c.began), Set: c.set}
}

func (c *turning) turn() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.off, c.set = 0, true
}

// The clock is an hour behind until ten rounds are with the hub; it is set then.
// In the end the hub has every round at its right time, and the spool is empty.
func TestTheHubEndsWithTheRightTimesOnceTheClockIsSet(t *testing.T) {
	t.Parallel()
	k := &kept{rounds: map[uint64]sensors.Round{}}
	opened := make(chan *Agent, 1)
	var a *Agent
	link := between(t, k, func() []uint64 {
		if a == nil {
			a = <-opened
		}
		entries, err := a.spool.Pending(context.Background(), telemetry.Place{}, 1000)
		if err != nil {
			t.Error(err)
		}
		var waiting []uint64
		for _, e := range entries {
			waiting = append(waiting, e.Round.Seq)
		}
		return waiting
	})
	clock := &turning{began: time.Now().Add(-time.Hour), off: -time.Hour}
	cfg, _ := config(t.TempDir())
	cfg.Link, cfg.Clock, cfg.Period = link, clock, 20*time.Millisecond
	agent := open(t, cfg)
	opened <- agent
	began := time.Now()
	start(t, agent.Run)

	wait(t, "ten rounds of an hour ago", func() bool {
		return k.all(func(r sensors.Round) bool { return !r.ClockSet && began.Sub(r.Time) > 30*time.Minute && r.Seq <= 10 }, 10)
	})
	clock.turn()
	wait(t, "rounds of now", func() bool {
		return k.all(func(r sensors.Round) bool {
			return r.ClockSet && r.Seq <= 10 && began.Sub(r.Time) <= rounding
		}, 10)
	})
	wait(t, "no round that is not dated", func() bool {
		return k.all(func(r sensors.Round) bool { return !r.ClockSet }, 0)
	})
	k.mu.Lock()
	defer k.mu.Unlock()
	k.over = true
	if len(k.unsent) > 0 {
		t.Errorf("rounds %v were sent before they were in the spool", k.unsent)
	}
	for seq, r := range k.rounds {
		if before, ok := k.rounds[seq-1]; ok && before.Time.Sub(r.Time) > rounding {
			t.Errorf("round %d is of %s, the one before of %s", seq, r.Time, before.Time)
		}
	}
}
