package telemetry

import (
	"bytes"
	"context"
	"log/slog"
	"sync"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"recoat/sensors"
)

const patience = 20 * time.Second

// logged collects what a component logged, to be shown when a test fails.
func logged(t *testing.T) *slog.Logger {
	t.Helper()
	var mu sync.Mutex
	var lines bytes.Buffer
	t.Cleanup(func() {
		mu.Lock()
		defer mu.Unlock()
		if t.Failed() {
			t.Log(lines.String())
		}
	})
	return slog.New(slog.NewTextHandler(lockedWriter{&mu, &lines}, nil))
}

type lockedWriter struct {
	mu *sync.Mutex
	b  *bytes.Buffer
}

func (w lockedWriter) Write(p []byte) (int, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.b.Write(p)
}

// until waits for what other goroutines bring about.
func until(t *testing.T, what string, done func() bool) {
	t.Helper()
	for end := time.Now().Add(patience); !done(); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("not within %s: %s", patience, what)
		}
	}
}

// start runs something until the test, or the caller, stops it.
func start(t *testing.T, run func(context.Context) error) (stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- run(ctx) }()
	stop = sync.OnceFunc(func() {
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
	t.Cleanup(stop)
	return stop
}

func testUsers() []User {
	return []User{
		AgentUser("agent", "birch", "back-room", "bench"), HubUser("hub", "alder"), DeviceUser("mast", "hazel", "back-room", "mast"),
		{Name: "wide", Password: "yew", Publish: []string{"a/room1", topicRoot + "+/+/readings"}, Subscribe: []string{"a/room1", "b/#", topicRoot + "+/+/+"}},
	}
}

// startBroker returns where it listens.
func startBroker(t *testing.T) (at string, stop func()) {
	t.Helper()
	b, err := ListenBroker(t.Context(), BrokerConfig{Addr: "127.0.0.1:0", Users: testUsers(), Log: logged(t)})
	if err != nil {
		t.Fatal(err)
	}
	return b.Addr().String(), start(t, b.Run)
}

func link(at, user, password string) Link {
	return Link{URL: "tcp://" + at, User: user, Password: password, Retry: 50 * time.Millisecond}
}

func startCourier(t *testing.T, at string, s *Spool, resend time.Duration) (*Courier, func()) {
	t.Helper()
	c, err := NewCourier(CourierConfig{
		Link: link(at, "agent", "birch"), Room: "back-room", Node: "bench", Boot: s.cfg.Boot, Outbox: s,
		Log: logged(t), Resend: resend,
	})
	if err != nil {
		t.Fatal(err)
	}
	return c, start(t, c.Run)
}

// testHub takes deliveries, and keeps the last form of every round by its
// identity, as the hub's store does.
type testHub struct {
	*Receiver
	stop func()

	mu     sync.Mutex
	keep   bool // call Stored
	order  []sensors.Round
	rounds map[identity]sensors.Round
	states []NodeState
	unkept []Delivery
}

func startHub(t *testing.T, at string, keep bool) *testHub {
	t.Helper()
	return startHubOn(t, link(at, "hub", "alder"), keep)
}

func startHubOn(t *testing.T, l Link, keep bool) *testHub {
	t.Helper()
	h := &testHub{keep: keep, rounds: map[identity]sensors.Round{}}
	r, err := NewReceiver(ReceiverConfig{Link: l, Handle: h.handle, HandleState: h.handleState, Log: logged(t)})
	if err != nil {
		t.Fatal(err)
	}
	h.Receiver, h.stop = r, start(t, r.Run)
	return h
}

// startHubWith starts a hub that does with each delivery what the test says.
func startHubWith(t *testing.T, at string, do func(Delivery)) *testHub {
	t.Helper()
	h := &testHub{rounds: map[identity]sensors.Round{}}
	r, err := NewReceiver(ReceiverConfig{Link: link(at, "hub", "alder"), Log: logged(t), Handle: func(d Delivery) {
		h.handle(d)
		do(d)
	}})
	if err != nil {
		t.Fatal(err)
	}
	h.Receiver, h.stop = r, start(t, r.Run)
	return h
}

// count is how often a round came.
func (h *testHub) count(seq uint64) (n int) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for _, r := range h.order {
		if r.Seq == seq {
			n++
		}
	}
	return n
}

func (h *testHub) handle(d Delivery) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for _, r := range d.Rounds {
		h.order = append(h.order, r)
		h.rounds[identity{r.Boot, r.Seq}] = r
	}
	if h.keep {
		d.Stored()
	} else {
		h.unkept = append(h.unkept, d)
	}
}

func (h *testHub) handleState(r Report) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.states = append(h.states, r.NodeState)
}

func (h *testHub) has(n int) func() bool {
	return func() bool {
		h.mu.Lock()
		defer h.mu.Unlock()
		return len(h.rounds) >= n
	}
}

func (h *testHub) round(boot string, seq uint64) sensors.Round {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.rounds[identity{boot, seq}]
}

// firsts returns the rounds in the order in which each first came.
func (h *testHub) firsts() (rounds []sensors.Round) {
	h.mu.Lock()
	defer h.mu.Unlock()
	seen := map[identity]bool{}
	for _, r := range h.order {
		if id := (identity{r.Boot, r.Seq}); !seen[id] {
			seen[id], rounds = true, append(rounds, r)
		}
	}
	return rounds
}

func (h *testHub) lastState() NodeState {
	h.mu.Lock()
	defer h.mu.Unlock()
	if len(h.states) == 0 {
		return NodeState{}
	}
	return h.states[len(h.states)-1]
}

func empty(t *testing.T, s *Spool) func() bool {
	return func() bool { st := stats(t, s); return st.Pending+st.Held == 0 }
}

// client is a plain MQTT client, connected or refused.
func client(t *testing.T, at, id, user, password string, change func(*mqtt.ClientOptions)) (mqtt.Client, error) {
	t.Helper()
	o := mqtt.NewClientOptions().AddBroker("tcp://" + at).SetClientID(id).SetUsername(user).SetPassword(password).
		SetProtocolVersion(4).SetAutoReconnect(false).SetConnectTimeout(patience)
	if change != nil {
		change(o)
	}
	c := mqtt.NewClient(o)
	token := c.Connect()
	if !token.WaitTimeout(patience) {
		t.Fatal("the broker does not answer")
	}
	if token.Error() == nil {
		t.Cleanup(func() { c.Disconnect(50) })
	}
	return c, token.Error()
}
