package telemetry

import (
	"path/filepath"
	"sync"
	"testing"
	"time"

	"recoat/sensors"
)

// A hub in the broker's own process hears a node, is told what the broker kept
// apart from what is said just now, and its acknowledgements empty the spool.
func TestAHubInsideTheBrokersProcess(t *testing.T) {
	b, err := ListenBroker(t.Context(), BrokerConfig{Addr: "127.0.0.1:0", Users: testUsers(), Log: logged(t)})
	if err != nil {
		t.Fatal(err)
	}
	start(t, b.Run)
	at := b.Addr().String()
	s := openSpool(t, filepath.Join(t.TempDir(), "spool.db"), bootA, 1<<20)
	_, leave := startCourier(t, at, s, 300*time.Millisecond)
	until(t, "the node is connected", func() bool { return len(b.server.Topics.Messages(topicRoot+"+/+/state")) == 1 })

	h := &testHub{keep: true, rounds: map[identity]sensors.Round{}}
	var mu sync.Mutex
	var reports []Report
	r, err := NewReceiver(ReceiverConfig{Broker: b, Handle: h.handle, Log: logged(t), HandleState: func(r Report) {
		mu.Lock()
		defer mu.Unlock()
		reports = append(reports, r)
	}})
	if err != nil {
		t.Fatal(err)
	}
	stop := start(t, r.Run)
	for seq := uint64(1); seq <= 300; seq++ {
		if err := s.Append(t.Context(), roundOf(bootA, seq)); err != nil {
			t.Fatal(err)
		}
	}
	until(t, "the spool is empty", empty(t, s))
	if !h.has(300)() || r.Stats().Dropped != 0 {
		t.Errorf("%+v", r.Stats())
	}
	leave()
	until(t, "the node has said goodbye", func() bool { mu.Lock(); defer mu.Unlock(); return len(reports) >= 2 })
	if first, last := reports[0], reports[len(reports)-1]; !first.Online || !first.Kept || last.Online || last.Kept {
		t.Errorf("%+v", reports)
	}
	stop()
	if len(b.server.Topics.Subscribers(topicRoot+"back-room/bench/readings").InlineSubscriptions) != 0 {
		t.Error("a receiver that has ended is still subscribed")
	}
}

// A node that is quicker than the hub waits for it: nothing is dropped, whatever
// the queue holds.
func TestInsideANodeThatIsTooQuickWaits(t *testing.T) {
	b, err := ListenBroker(t.Context(), BrokerConfig{Addr: "127.0.0.1:0", Users: testUsers(), Log: logged(t)})
	if err != nil {
		t.Fatal(err)
	}
	start(t, b.Run)
	h := &testHub{keep: true, rounds: map[identity]sensors.Round{}}
	r, err := NewReceiver(ReceiverConfig{Broker: b, Queue: 2, Log: logged(t), Handle: func(d Delivery) {
		time.Sleep(2 * time.Millisecond)
		h.handle(d)
	}})
	if err != nil {
		t.Fatal(err)
	}
	start(t, r.Run)
	until(t, "the hub has subscribed", func() bool {
		return len(b.server.Topics.Subscribers(topicRoot+"back-room/bench/readings").InlineSubscriptions) > 0
	})
	node, err := client(t, b.Addr().String(), "quick", "agent", "birch", nil)
	if err != nil {
		t.Fatal(err)
	}
	for seq := uint64(1); seq <= 200; seq++ {
		payload, err := EncodeRound("back-room", roundOf(bootA, seq))
		if err != nil {
			t.Fatal(err)
		}
		node.Publish(topicRoot+"back-room/bench/readings", 1, false, payload)
	}
	until(t, "all have come", h.has(200))
	if n := r.Stats().Dropped; n != 0 {
		t.Errorf("%d were dropped", n)
	}
}
