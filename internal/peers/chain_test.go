package peers

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"recoat/internal/alert"
	"recoat/internal/hub"
	"recoat/internal/shop"
	"recoat/internal/store/sqlite"
	"recoat/internal/telemetry"
	"recoat/sensors"
)

// roleVariable makes the test binary a part of a chain that is measured.
const roleVariable = "RECOAT_TEST_PEER"

func TestMain(m *testing.M) {
	role, rest, _ := strings.Cut(os.Getenv(roleVariable), "|")
	if role == "" {
		os.Exit(m.Run())
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := runOwn(ctx, rest); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	os.Exit(0)
}

const (
	chainRoom, chainNode = "attic", "bench"
	chainMessages        = 2000
	chainInFlight        = 200 // the collector flushes once a second, so this holds it to 200 a second: a small shop, no limit of the chain
)

// runOwn is our chain: broker, receiver, hub and store in one process, as
// `recoat up` has them but for the pages and the sensors.
func runOwn(ctx context.Context, rest string) error {
	at, folder, _ := strings.Cut(rest, "|")
	log := slog.New(slog.DiscardHandler)
	s, err := sqlite.Open(ctx, filepath.Join(folder, "readings.db"))
	if err != nil {
		return err
	}
	j, err1 := shop.OpenJournal(ctx, filepath.Join(folder, "journal.db"))
	o, err2 := alert.OpenOutbox(ctx, filepath.Join(folder, "outbox.db"))
	broker, err3 := telemetry.ListenBroker(ctx, telemetry.BrokerConfig{Addr: at, Log: log, Users: []telemetry.User{
		telemetry.HubUser("hub", "alder"), telemetry.AgentUser("agent", "birch", chainRoom, chainNode),
	}})
	if err := errors.Join(err1, err2, err3); err != nil {
		return err
	}
	began := time.Now()
	var ids atomic.Int64
	h := hub.New(hub.Options{
		Readings: s, Journal: j, Decisions: o, Channels: []string{"phone"}, Log: log, NewID: func() string { return fmt.Sprint(ids.Add(1)) },
		Now: func() alert.Instant { return alert.Instant{Wall: time.Now(), Mono: time.Since(began)} },
	})
	receiver, err := telemetry.NewReceiver(telemetry.ReceiverConfig{Link: telemetry.Link{URL: "tcp://" + at, User: "hub", Password: "alder", Retry: 50 * time.Millisecond}, Handle: h.Deliver, Log: log})
	if err != nil {
		return err
	}
	var all sync.WaitGroup
	for _, run := range []func(context.Context) error{broker.Run, h.Run, receiver.Run} {
		all.Go(func() { _ = run(ctx) })
	}
	all.Wait()
	return errors.Join(s.Close(), j.Close(), o.Close())
}

// chain takes messages, one reading round each, and makes them durable.
type chain struct {
	name    string
	broker  string
	user    string
	topic   string
	payload func(seq int) []byte
	durable func() int // how many of those sent since the start
	parts   []*server
}

func (c chain) memory() (n int64) {
	for _, p := range c.parts {
		n += p.memory()
	}
	return n
}

// send publishes messages first..last at QoS 1, a bounded number ahead of what
// is durable, and returns how long it was until all were.
func (c chain) send(t *testing.T, client mqtt.Client, first, last int) time.Duration {
	t.Helper()
	began := time.Now()
	for n := first; n <= last; n++ {
		for n-c.durable() > chainInFlight {
			if time.Since(began) > 5*time.Minute {
				t.Fatalf("%s: %d of %d are durable", c.name, c.durable(), n)
			}
			time.Sleep(time.Millisecond)
		}
		client.Publish(c.topic, 1, false, c.payload(n))
	}
	for c.durable() < last {
		if time.Since(began) > 5*time.Minute {
			t.Fatalf("%s: %d of %d are durable", c.name, c.durable(), last)
		}
		time.Sleep(time.Millisecond)
	}
	return time.Since(began)
}

func dial(t *testing.T, c chain, heard mqtt.MessageHandler, filter string) mqtt.Client {
	t.Helper()
	o := mqtt.NewClientOptions().AddBroker("tcp://" + c.broker).SetClientID("sender").SetUsername(c.user).SetPassword("birch").SetConnectRetry(true).SetConnectRetryInterval(100 * time.Millisecond)
	client := mqtt.NewClient(o)
	if token := client.Connect(); !token.WaitTimeout(time.Minute) || token.Error() != nil {
		t.Fatalf("%s: %v", c.name, token.Error())
	}
	t.Cleanup(func() { client.Disconnect(100) })
	if filter != "" {
		if token := client.Subscribe(filter, 1, heard); !token.WaitTimeout(time.Minute) || token.Error() != nil {
			t.Fatalf("%s: %v", c.name, token.Error())
		}
	}
	return client
}

// ownChain starts ours. What is durable is what the hub acknowledges.
func ownChain(t *testing.T) (chain, mqtt.Client) {
	at := port(t)
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	s := &server{path: self, url: "http://" + at, env: roleVariable + "=own|" + at + "|" + t.TempDir()}
	up(t, s)
	var acknowledged atomic.Int64
	c := chain{name: "recoat", broker: at, user: "agent", parts: []*server{s}, topic: telemetry.Topic{Room: chainRoom, Node: chainNode, Kind: telemetry.Readings}.String(),
		payload: func(seq int) []byte {
			r := measured(seq - 1)
			r.Time = time.Now()
			payload, err := telemetry.EncodeRound(chainRoom, r)
			if err != nil {
				panic(err) // a round of our own making
			}
			return payload
		},
		durable: func() int { return int(acknowledged.Load()) },
	}
	client := dial(t, c, func(_ mqtt.Client, m mqtt.Message) {
		if r, err := telemetry.DecodeReceipt(m.Payload()); err == nil {
			for _, s := range r.Spans {
				acknowledged.Add(int64(s.Last - s.First + 1))
			}
		}
	}, telemetry.Topic{Room: chainRoom, Node: chainNode, Kind: telemetry.Stored}.String())
	return c, client
}

// peerChain starts mosquitto, telegraf and InfluxDB. What is durable is what
// InfluxDB counts.
func peerChain(t *testing.T) (chain, mqtt.Client) {
	telegraf, mosquitto := find(t, "telegraf"), find(t, "mosquitto")
	influx := influxServer(t)
	at, home := port(t), t.TempDir()
	_, number, err := net.SplitHostPort(at)
	if err != nil {
		t.Fatal(err)
	}
	write := func(name, text string) string {
		path := filepath.Join(home, name)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	broker := up(t, &server{path: mosquitto, url: "http://" + at, args: []string{"-c", write("mosquitto.conf", fmt.Sprintf("listener %s 127.0.0.1\nuser root\nallow_anonymous true\npersistence true\npersistence_location %s/\n", number, home))}})
	collector := exec.Command(telegraf, "--quiet", "--config", write("telegraf.conf", fmt.Sprintf("[agent]\nflush_interval = \"1s\"\nmetric_batch_size = 1000\nomit_hostname = true\n[[inputs.mqtt_consumer]]\nservers = [\"tcp://%s\"]\ntopics = [\"readings\"]\nqos = 1\ndata_format = \"influx\"\n[[outputs.influxdb]]\nurls = [%q]\ndatabase = \"year\"\nskip_database_creation = true\n", at, influx.url)))
	if err := collector.Start(); err != nil {
		t.Fatal(err)
	}
	s := &server{path: telegraf, command: collector}
	t.Cleanup(s.stop)
	c := chain{name: "mosquitto, telegraf, InfluxDB", broker: at, topic: "readings", parts: []*server{influx, broker, s},
		payload: func(seq int) []byte {
			return []byte(strings.TrimSpace(string(lines([]sensors.Round{measured(seq - 1)}))))
		},
		durable: func() int { return counted(influx.url) },
	}
	return c, dial(t, c, nil, "")
}

// TestChain measures one round a message, at QoS 1, until it is durable.
func TestChain(t *testing.T) {
	if os.Getenv(peersVariable) == "" {
		t.Skip("measuring takes minutes: make peers asks for it")
	}
	own, ownClient := ownChain(t)
	peer, peerClient := peerChain(t)
	time.Sleep(10 * time.Second)
	idle := [2]float64{float64(own.memory()) / (1 << 20), float64(peer.memory()) / (1 << 20)}
	var rates [2][]float64
	for part := range parts {
		for i, x := range []struct {
			chain  chain
			client mqtt.Client
		}{{own, ownClient}, {peer, peerClient}} {
			took := x.chain.send(t, x.client, part*chainMessages+1, (part+1)*chainMessages)
			rates[i] = append(rates[i], chainMessages/took.Seconds())
		}
	}
	fmt.Printf("\nOne round a message, QoS 1, until durable; medians of %d runs of %d, lowest and highest in brackets.\n| chain | rounds/s | idle, MiB | loaded, MiB |\n|---|---|---|---|\n", parts, chainMessages)
	var medians [2]float64
	for i, c := range []chain{own, peer} {
		m, spread := median(rates[i])
		medians[i] = m
		fmt.Printf("| %s | %.0f (%.0f–%.0f) | %.0f | %.0f |\n", c.name, m, spread[0], spread[1], idle[i], float64(c.memory())/(1<<20))
	}
	fmt.Printf("recoat to the chain: %.2fx the rounds/s, %.2fx the idle memory\n", medians[0]/medians[1], idle[0]/idle[1])
}
