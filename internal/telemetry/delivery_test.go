package telemetry

import (
	"path/filepath"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/google/go-cmp/cmp"

	"recoat/sensors"
)

func TestRoundsReachTheHubInOrderAndTheSpoolEmpties(t *testing.T) {
	t.Parallel()
	at, _ := startBroker(t)
	s := newSpool(t)
	var want []sensors.Round
	for seq := range uint64(60) {
		want = append(want, roundOf(bootA, seq+1))
	}
	hub := startHub(t, at, true)
	courier, _ := startCourier(t, at, s, 200*time.Millisecond)
	appendRounds(t, s, want[0])
	until(t, "the hub listens", hub.has(1))
	appendRounds(t, s, want[1:]...)
	until(t, "the spool is empty", empty(t, s))
	if diff := cmp.Diff(want, hub.firsts()); diff != "" {
		t.Error(diff)
	}
	if st := hub.Stats(); st.Rounds < 60 || st.Acknowledged < 60 || st.Refused != 0 || st.Packs != st.Rounds {
		t.Errorf("%+v", st)
	}
	if st := courier.Stats(); st.Sent < 60 || st.Receipts == 0 || st.Refused != 0 {
		t.Errorf("%+v", st)
	}
}

func TestWhatTheHubDoesNotStoreStaysAndComesAgain(t *testing.T) {
	t.Parallel()
	at, _ := startBroker(t)
	s := newSpool(t)
	want := []sensors.Round{roundOf(bootA, 1), roundOf(bootA, 2)}
	appendRounds(t, s, want...)
	hub := startHub(t, at, false)
	startCourier(t, at, s, 200*time.Millisecond)
	until(t, "every round came twice", func() bool {
		hub.mu.Lock()
		defer hub.mu.Unlock()
		return len(hub.rounds) == 2 && len(hub.order) >= 6
	})
	if diff := cmp.Diff(want, pending(t, s)); diff != "" {
		t.Errorf("never acknowledged and gone: %s", diff)
	}
	// The hub is another process now; the identity of the rounds is the same.
	hub.stop()
	again := startHub(t, at, true)
	until(t, "the spool is empty", empty(t, s))
	for _, r := range want {
		if diff := cmp.Diff(r, again.round(r.Boot, r.Seq)); diff != "" {
			t.Error(diff)
		}
	}
}

func TestStoredMayBeCalledLateAndTwice(t *testing.T) {
	t.Parallel()
	at, _ := startBroker(t)
	s := newSpool(t)
	appendRounds(t, s, roundOf(bootA, 1))
	hub := startHub(t, at, false)
	startCourier(t, at, s, 200*time.Millisecond)
	until(t, "the round is there", hub.has(1))
	hub.mu.Lock()
	late := hub.unkept[0].Stored
	hub.mu.Unlock()
	late()
	late()
	until(t, "the spool is empty", empty(t, s))
	if n := hub.Stats().Acknowledged; n != 1 {
		t.Errorf("%d acknowledged", n)
	}
}

func TestABrokerThatRestartsIsFoundAgainByBoth(t *testing.T) {
	t.Parallel()
	front := startRelay(t)
	first, stop := startBroker(t)
	front.lead("tcp", first)
	s := newSpool(t)
	hub := startHub(t, front.addr(), true)
	startCourier(t, front.addr(), s, 200*time.Millisecond)
	appendRounds(t, s, roundOf(bootA, 1))
	until(t, "the first round", hub.has(1))
	stop()
	appendRounds(t, s, roundOf(bootA, 2), roundOf(bootA, 3))
	second, _ := startBroker(t) // knows no session and no subscription
	front.lead("tcp", second)
	until(t, "the rounds of the outage", hub.has(3))
	until(t, "the spool is empty", empty(t, s))
	until(t, "the node is said to be online", func() bool { return hub.lastState().Online })
}

func TestARoundIsSentAgainOnceTheClockIsSet(t *testing.T) {
	t.Parallel()
	at, _ := startBroker(t)
	s := newSpool(t)
	hub := startHub(t, at, true)
	startCourier(t, at, s, 200*time.Millisecond)
	appendRounds(t, s, unset(roundOf(bootA, 1)), unset(roundOf(bootA, 2)))
	until(t, "both are held", func() bool { return stats(t, s).Held == 2 })
	wall := time.Date(2026, 6, 1, 20, 0, 0, 0, time.UTC)
	if n, err := s.Correct(t.Context(), wall, 10*time.Minute); err != nil || n != 2 {
		t.Fatalf("%d, %v", n, err)
	}
	until(t, "the spool is empty", empty(t, s))
	for seq := range uint64(2) {
		r := hub.round(bootA, seq+1)
		if want := wall.Add(r.Uptime - 10*time.Minute); !r.ClockSet || !r.Time.Equal(want) {
			t.Errorf("round %d at %s, set %v: want %s", r.Seq, r.Time, r.ClockSet, want)
		}
	}
}

func TestANodeIsSeenToComeAndGo(t *testing.T) {
	t.Parallel()
	at, _ := startBroker(t)
	s := newSpool(t)
	hub := startHub(t, at, true)
	_, stop := startCourier(t, at, s, 200*time.Millisecond)
	until(t, "online", func() bool { return hub.lastState().Online })
	stop()
	until(t, "offline", func() bool { return !hub.lastState().Online })
	// Another client with the same identifier throws the first one out, whose
	// will is then published.
	startCourier(t, at, s, 200*time.Millisecond)
	until(t, "online again", func() bool { return hub.lastState().Online })
	before := time.Now().Add(-time.Second)
	if _, err := client(t, at, "recoat:back-room:bench", "agent", "birch", nil); err != nil {
		t.Fatal(err)
	}
	until(t, "the will is heard", func() bool {
		hub.mu.Lock()
		defer hub.mu.Unlock()
		for _, st := range hub.states[3:] {
			if !st.Online && st.At.After(before) {
				return true
			}
		}
		return false
	})
}

func TestAForeignDeviceIsHeardAndNotAcknowledged(t *testing.T) {
	t.Parallel()
	at, _ := startBroker(t)
	hub := startHub(t, at, true)
	wide, err := client(t, at, "wide", "wide", "yew", nil)
	if err != nil {
		t.Fatal(err)
	}
	acknowledged := make(chan string, 1)
	err = subscribe(t.Context(), wide, func(_ mqtt.Client, m mqtt.Message) {
		if topic, err := ParseTopic(m.Topic()); err == nil && topic.Kind == Stored {
			acknowledged <- m.Topic() + " " + string(m.Payload())
		}
	}, topicRoot+"+/+/+")
	if err != nil {
		t.Fatal(err)
	}
	publish := func(payload string) {
		t.Helper()
		if token := wide.Publish(topicRoot+"back-room/mast/readings", 1, false, payload); !token.WaitTimeout(patience) || token.Error() != nil {
			t.Fatalf("publish: %v", token.Error())
		}
	}
	until(t, "the hub listens", func() bool {
		publish(`[{"n":"relative-humidity","u":"%RH","v":70,"t":1772399010}]`)
		return hub.has(1)()
	})
	if r := hub.round("", 1772399010000); r.Node != "mast" || len(r.Readings) != 1 {
		t.Errorf("%+v", r)
	}
	// A node's own round, which is acknowledged, comes after it on the same
	// path: so whatever the device was going to get would be first.
	own, err := EncodeRound("back-room", func() sensors.Round { r := roundOf(bootA, 1); r.Node = "mast"; return r }())
	if err != nil {
		t.Fatal(err)
	}
	publish(string(own))
	select {
	case got := <-acknowledged:
		if want := topicRoot + `back-room/mast/stored {"boot":"` + bootA + `","clock_set":true,"seqs":[[1,1]]}`; got != want {
			t.Errorf("got %s, want %s", got, want)
		}
	case <-time.After(patience):
		t.Error("a node's round was not acknowledged")
	}
}

func TestPoisonIsCountedAndBlocksNothing(t *testing.T) {
	t.Parallel()
	at, _ := startBroker(t)
	s := newSpool(t)
	hub := startHub(t, at, true)
	startCourier(t, at, s, 200*time.Millisecond)
	appendRounds(t, s, roundOf(bootA, 1))
	until(t, "the hub listens", empty(t, s))
	wide, err := client(t, at, "wide", "wide", "yew", nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, payload := range []string{"", "{", `[{"n":"relative-humidity","u":"%RH","v":1e999}]`, `[{"n":"relative-humidity","u":"%RH","v":700}]`} {
		wide.Publish(topicRoot+"back-room/bench/readings", 1, false, payload).WaitTimeout(patience)
	}
	wide.Publish(topicRoot+"Back Room/bench/readings", 1, false, "[]").WaitTimeout(patience)
	until(t, "five refusals", func() bool { return hub.Stats().Refused == 5 })
	appendRounds(t, s, roundOf(bootA, 2))
	until(t, "the round after them", hub.has(2))
	until(t, "the spool is empty", empty(t, s))
}

func TestAHubThatFallsBehindLosesNothing(t *testing.T) {
	t.Parallel()
	at, _ := startBroker(t)
	s := openSpool(t, filepath.Join(t.TempDir(), "spool.db"), bootA, 1<<20)
	stored := make(chan uint64, 1000)
	slow, err := NewReceiver(ReceiverConfig{
		Link: link(at, "hub", "alder"), Log: logged(t), Queue: 1,
		Handle: func(d Delivery) {
			time.Sleep(2 * time.Millisecond)
			d.Stored()
			stored <- d.Rounds[0].Seq
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	start(t, slow.Run)
	for seq := range uint64(40) {
		appendRounds(t, s, roundOf(bootA, seq+1))
	}
	startCourier(t, at, s, 200*time.Millisecond)
	until(t, "the spool is empty", empty(t, s))
	seen := map[uint64]bool{}
	for len(stored) > 0 {
		seen[<-stored] = true
	}
	if len(seen) != 40 {
		t.Errorf("%d of 40 rounds were stored and all were let go", len(seen))
	}
}

// A state that is news is told from one that the broker had kept; when the node
// said it, by its own clock, is told in both.
func TestWhenANodeCameOrWent(t *testing.T) {
	said := received.Add(-48 * time.Hour)
	var got Report
	r, err := NewReceiver(ReceiverConfig{
		Link: Link{URL: "tcp://127.0.0.1:1883"}, Log: logged(t), Handle: func(Delivery) {},
		HandleState: func(r Report) { got = r },
	})
	if err != nil {
		t.Fatal(err)
	}
	m := message{topicRoot + "back-room/bench/state", NodeState{Online: true, Boot: bootA, At: said}.Encode(), false, received}
	for _, kept := range []bool{false, true} {
		m.retained = kept
		want := Report{Room: "back-room", Node: "bench", NodeState: NodeState{Online: true, Boot: bootA, At: said}, Kept: kept}
		if err := r.take(m); err != nil || !cmp.Equal(got, want) {
			t.Errorf("%+v, %v; want %+v", got, err, want)
		}
	}
	if m.payload = nil; r.take(m) != nil {
		t.Error("a retained state that was taken back counts as poison")
	}
	r.stored(Topic{"back-room", "mast", Readings}, []sensors.Round{foreign(received)})()
	if len(r.acks) != 0 {
		t.Error("a foreign round waits to be acknowledged")
	}
}

func TestConfigurationsThatAreRefused(t *testing.T) {
	t.Parallel()
	s := newSpool(t)
	good := CourierConfig{Link: Link{URL: "tcp://127.0.0.1:1883"}, Room: "back-room", Node: "bench", Boot: bootA, Outbox: s, Log: logged(t)}
	for name, spoil := range map[string]func(*CourierConfig){
		"no address": func(c *CourierConfig) { c.Link.URL = "" }, "no scheme": func(c *CourierConfig) { c.Link.URL = "127.0.0.1:1883" },
		"a page": func(c *CourierConfig) { c.Link.URL = "http://127.0.0.1" }, "no room": func(c *CourierConfig) { c.Room = "" },
		"no boot": func(c *CourierConfig) { c.Boot = "" }, "no spool": func(c *CourierConfig) { c.Outbox = nil },
	} {
		cfg := good
		spoil(&cfg)
		if _, err := NewCourier(cfg); err == nil {
			t.Errorf("courier: %s was taken", name)
		}
	}
	if _, err := NewReceiver(ReceiverConfig{Link: good.Link}); err == nil {
		t.Error("a receiver without a handler was taken")
	}
	if _, err := NewReceiver(ReceiverConfig{Handle: func(Delivery) {}}); err == nil {
		t.Error("a receiver without a broker was taken")
	}
}

// Delivery goes on without a broker, and without a hub behind it; it does not
// where the client is connected and does not get rid of what it was given.
func TestBeatsStopOnlyForAClientThatIsClogged(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		stub *cuttingBroker
		goes bool
	}{
		"no broker":                   {nil, true},
		"a broker without a hub":      {&cuttingBroker{after: 1 << 30, puback: true}, true},
		"a broker that takes nothing": {&cuttingBroker{after: 1 << 30}, false},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			at := "127.0.0.1:1"
			if c.stub != nil {
				at = startStub(t, c.stub)
			}
			s := newSpool(t)
			appendRounds(t, s, roundOf(bootA, 1))
			courier, _ := startCourier(t, at, s, 100*time.Millisecond)
			time.Sleep(2 * time.Second)
			before := courier.Beats()
			time.Sleep(time.Second)
			if went := courier.Beats() > before; went != c.goes {
				t.Errorf("delivery went on: %t, want %t", went, c.goes)
			}
		})
	}
}
