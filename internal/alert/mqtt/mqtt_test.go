package mqtt

import (
	"context"
	"encoding/json"
	"errors"
	"log/slog"
	"net"
	"strings"
	"testing"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
	"github.com/google/go-cmp/cmp"
	"go.uber.org/goleak"

	"recoat/internal/alert"
	"recoat/internal/telemetry"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

const (
	topic    = "shop/alerts"
	password = "tr0ub4dor-and-3"
	patience = 10 * time.Second
)

var sample = alert.Message{
	ID: "0123456789abcdef", Episode: "e1", Key: alert.Key{Rule: "unfit", Room: "back-room"}, Cause: alert.First,
	Severity: alert.Critical, Title: "Near the dew point", Body: "No end in sight yet.", At: time.Date(2031, 3, 4, 21, 40, 0, 0, time.UTC),
}

// broker runs until the test ends and returns its address.
func broker(t *testing.T) string {
	t.Helper()
	b, err := telemetry.ListenBroker(t.Context(), telemetry.BrokerConfig{
		Addr: "127.0.0.1:0", Log: slog.New(slog.DiscardHandler),
		Users: []telemetry.User{
			{Name: "hub", Password: password, Publish: []string{topic}},
			{Name: "lamp", Password: password, Subscribe: []string{topic}},
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- b.Run(ctx) }()
	t.Cleanup(func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
	return "tcp://" + b.Addr().String()
}

func newChannel(t *testing.T, cfg Config) *Channel {
	t.Helper()
	c, err := New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// listen subscribes to the topic and returns what arrives.
func listen(t *testing.T, address string) <-chan []byte {
	t.Helper()
	got := make(chan []byte, 10)
	c := paho.NewClient(paho.NewClientOptions().AddBroker(address).SetClientID("lamp").SetUsername("lamp").SetPassword(password))
	done := func(token paho.Token) {
		t.Helper()
		if !token.WaitTimeout(patience) || token.Error() != nil {
			t.Fatal(token.Error())
		}
	}
	done(c.Connect())
	t.Cleanup(func() { c.Disconnect(50) })
	done(c.Subscribe(topic, 1, func(_ paho.Client, m paho.Message) { got <- m.Payload() }))
	return got
}

func TestAMessageIsPublishedAsJSON(t *testing.T) {
	address := broker(t)
	got := listen(t, address)
	c := newChannel(t, Config{Broker: address, User: "hub", Password: password, Topic: topic})
	for range 2 {
		if err := c.Send(t.Context(), sample); err != nil {
			t.Fatal(err)
		}
		select {
		case payload := <-got:
			var body map[string]any
			if err := json.Unmarshal(payload, &body); err != nil {
				t.Fatal(err)
			}
			want := map[string]any{
				"id": sample.ID, "title": sample.Title, "body": sample.Body, "severity": "critical", "cause": "first",
				"room": "back-room", "event_time": "2031-03-04T21:40:00Z", "episode": "e1", "key": "unfit/back-room/",
			}
			if diff := cmp.Diff(want, body); diff != "" {
				t.Error(diff)
			}
		case <-time.After(patience):
			t.Fatal("nothing arrived")
		}
	}
}

func TestWhatTheBrokerRefusesIsNotSent(t *testing.T) {
	address := broker(t)
	for name, cfg := range map[string]Config{
		"a wrong password": {Broker: address, User: "hub", Password: "wrong-" + password, Topic: topic},
		"nobody there":     {Broker: "tcp://" + closed(t), User: "hub", Password: password, Topic: topic},
	} {
		err := newChannel(t, cfg).Send(t.Context(), sample)
		if err == nil || strings.Contains(err.Error(), password) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func closed(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

func TestABrokerThatSaysNothingEndsWithTheContext(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	held := make(chan net.Conn, 1)
	go func() {
		if c, err := l.Accept(); err == nil {
			held <- c
		}
	}()
	ctx, cancel := context.WithTimeout(t.Context(), 200*time.Millisecond)
	defer cancel()
	begun := time.Now()
	c := newChannel(t, Config{Broker: "tcp://" + l.Addr().String(), Topic: topic})
	if err := c.Send(ctx, sample); !errors.Is(err, alert.ErrOutcomeUnknown) || time.Since(begun) > 5*time.Second {
		t.Errorf("after %v: %v", time.Since(begun), err)
	}
	(<-held).Close()
}

func TestConfigurationsThatAreRefused(t *testing.T) {
	for _, c := range []struct{ broker, topic, want string }{
		{"", topic, "tcp://"}, {"shop:1883", topic, "tcp://"}, {"tcp://", topic, "tcp://"}, {"tcp://hub:" + password + "@shop:1883", topic, "without a password"},
		{"http://shop", topic, "begins with"}, {"tcp://shop:1883", "", "no topic"}, {"tcp://shop:1883", "a/+/b", "no topic"},
		{"tcp://shop:1883", "a/#", "no topic"}, {"tcp://shop:1883", "$SYS/a", "no topic"}, {"tcp://shop:1883", strings.Repeat("x", 201), "no topic"},
	} {
		if _, err := New(Config{Broker: c.broker, Topic: c.topic}); err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), password) {
			t.Errorf("%q %q: %v, want %q", c.broker, c.topic, err, c.want)
		}
	}
}
