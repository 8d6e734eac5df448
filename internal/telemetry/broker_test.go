package telemetry

import (
	"strings"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

func TestTheBrokerListensOnLoopbackOrWithTLS(t *testing.T) {
	t.Parallel()
	for _, addr := range []string{"0.0.0.0:0", ":0", "[::]:0"} {
		if b, err := ListenBroker(t.Context(), BrokerConfig{Addr: addr, Log: logged(t)}); err == nil {
			t.Errorf("listens on %s", b.Addr())
			_ = b.Close()
		}
	}
	if _, err := ListenBroker(t.Context(), BrokerConfig{Addr: "127.0.0.1:0", Users: []User{{Name: "a"}}, Log: logged(t)}); err == nil {
		t.Error("a user without a password was taken")
	}
	b, err := ListenBroker(t.Context(), BrokerConfig{Addr: "127.0.0.1:0", Log: logged(t)})
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Close(); err != nil {
		t.Error(err)
	}
}

func TestWhoMayConnect(t *testing.T) {
	t.Parallel()
	at, _ := startBroker(t)
	if _, err := client(t, at, "first", "wide", "yew", nil); err != nil {
		t.Fatal(err)
	}
	will := func(topic string) func(*mqtt.ClientOptions) {
		return func(o *mqtt.ClientOptions) { o.SetWill(topic, "gone", 1, true) }
	}
	for name, c := range map[string]struct {
		id, user, password string
		change             func(*mqtt.ClientOptions)
		want               bool
	}{
		"a will where it may publish":    {"w1", "wide", "yew", will("a/room1"), true},
		"a will where it may not":        {"w2", "wide", "yew", will("a/room1/x"), false},
		"a will for a wildcard":          {"w3", "wide", "yew", will(topicRoot + "+/+/readings"), false},
		"a wrong password":               {"p1", "wide", "Yew", nil, false},
		"an empty password":              {"p2", "wide", "", nil, false},
		"nobody":                         {"p3", "", "", nil, false},
		"another user's session":         {"first", "agent", "birch", nil, false},
		"its own session, again":         {"first", "wide", "yew", nil, true},
		"another user, an id of its own": {"second", "agent", "birch", nil, true},
	} {
		if _, err := client(t, at, c.id, c.user, c.password, c.change); (err == nil) != c.want {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestTheBrokerRefusesFiltersBroaderThanAllowed(t *testing.T) {
	t.Parallel()
	at, _ := startBroker(t)
	c, err := client(t, at, "reader", "wide", "yew", nil)
	if err != nil {
		t.Fatal(err)
	}
	for filter, want := range map[string]bool{
		"a/room1": true, "b/#": true, "b/x/+": true, "b": true,
		"a/room1/x/y": false, "a/room1/#": false, "a/+": false, "#": false, "+/#": false, "$SYS/#": false, "$share/g/a/room1": false,
	} {
		err := subscribe(t.Context(), c, func(mqtt.Client, mqtt.Message) {}, filter)
		if (err == nil) != want {
			t.Errorf("%s: %v", filter, err)
		}
	}
}

func TestWhatMayNotBePublishedReachesNobody(t *testing.T) {
	t.Parallel()
	at, _ := startBroker(t)
	reader, err := client(t, at, "reader", "wide", "yew", nil)
	if err != nil {
		t.Fatal(err)
	}
	heard := make(chan string, 10)
	if err := subscribe(t.Context(), reader, func(_ mqtt.Client, m mqtt.Message) { heard <- m.Topic() }, topicRoot+"+/+/+"); err != nil {
		t.Fatal(err)
	}
	// At QoS 0 the broker drops it and keeps the connection, so that what
	// follows on the same connection proves that it was seen.
	mast, err := client(t, at, "mast", "mast", "hazel", nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, topic := range []string{"back-room/bench/readings", "back-room/mast/stored", "back-room/mast/readings"} {
		mast.Publish(topicRoot+topic, 0, false, "x")
	}
	select {
	case topic := <-heard:
		if topic != topicRoot+"back-room/mast/readings" {
			t.Errorf("%s got through", topic)
		}
	case <-time.After(patience):
		t.Error("nothing got through")
	}
	// At QoS 1 it is put out.
	lost := make(chan struct{})
	mast2, err := client(t, at, "mast2", "mast", "hazel", func(o *mqtt.ClientOptions) {
		o.SetConnectionLostHandler(func(mqtt.Client, error) { close(lost) })
	})
	if err != nil {
		t.Fatal(err)
	}
	mast2.Publish(topicRoot+"back-room/bench/readings", 1, false, "x")
	select {
	case <-lost:
	case <-time.After(patience):
		t.Error("it stayed connected")
	}
}

func TestAPacketOverTheLimitIsNotTaken(t *testing.T) {
	t.Parallel()
	at, _ := startBroker(t)
	lost := make(chan struct{})
	c, err := client(t, at, "writer", "wide", "yew", func(o *mqtt.ClientOptions) {
		o.SetConnectionLostHandler(func(mqtt.Client, error) { close(lost) })
	})
	if err != nil {
		t.Fatal(err)
	}
	c.Publish("a/room1", 1, false, strings.Repeat("x", MaxPack))
	select {
	case <-lost:
	case <-time.After(patience):
		t.Error("it stayed connected")
	}
}
