package peers

import (
	"bytes"
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
	"recoat/internal/store"
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
	chainRoom = "attic"
	password  = "birch"
	nodes     = 16 // of the chain with many publishers
)

func chainNode(n int) string { return fmt.Sprintf("bench-%d", n) }

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
	var users []telemetry.User
	for n := range nodes {
		users = append(users, telemetry.AgentUser(chainNode(n), password, chainRoom, chainNode(n)))
	}
	broker, err3 := telemetry.ListenBroker(ctx, telemetry.BrokerConfig{Addr: at, Log: log, Users: users})
	if err := errors.Join(err1, err2, err3); err != nil {
		return err
	}
	began := time.Now()
	var ids atomic.Int64
	h := hub.New(hub.Options{
		Readings: s, Journal: j, Decisions: o, Channels: []string{"phone"}, Log: log, NewID: func() string { return fmt.Sprint(ids.Add(1)) },
		Now: func() alert.Instant { return alert.Instant{Wall: time.Now(), Mono: time.Since(began)} },
	})
	receiver, err := telemetry.NewReceiver(telemetry.ReceiverConfig{Broker: broker, Handle: h.Deliver, Log: log})
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
	topic   func(node int) string
	payload func(node, seq int) []byte
	durable func() int // how many since the start
	exact   func() int // the same, told by the store itself
	parts   []*server
}

func (c chain) memory() (mib float64) {
	for _, p := range c.parts {
		mib += float64(p.memory()) / (1 << 20)
	}
	return mib
}

func (c chain) processor() (all time.Duration) {
	for _, p := range c.parts {
		all += processor(p.command.Process.Pid)
	}
	return all
}

// ownChain starts ours. What is durable is what the hub acknowledges.
func ownChain(t *testing.T) chain {
	at := port(t)
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	folder := t.TempDir()
	s := &server{path: self, url: "http://" + at, env: []string{roleVariable + "=own|" + at + "|" + folder, "GOGC=40"}} // as recoat sets it
	up(t, s)
	var acknowledged atomic.Int64
	topic := func(n int, k telemetry.Kind) string {
		return telemetry.Topic{Room: chainRoom, Node: chainNode(n), Kind: k}.String()
	}
	for n := range nodes {
		hear(t, at, chainNode(n), topic(n, telemetry.Stored), func(_ mqtt.Client, m mqtt.Message) {
			if r, err := telemetry.DecodeReceipt(m.Payload()); err == nil {
				for _, s := range r.Spans {
					acknowledged.Add(int64(s.Last - s.First + 1))
				}
			}
		})
	}
	began := time.Now()
	return chain{
		name: "recoat", broker: at, parts: []*server{s},
		topic: func(n int) string { return topic(n, telemetry.Readings) },
		payload: func(n, seq int) []byte {
			r := measured(seq)
			r.Node, r.Time = chainNode(n), began.Add(time.Duration(seq)*time.Millisecond)
			payload, err := telemetry.EncodeRound(chainRoom, r)
			if err != nil {
				panic(err) // a round of our own making
			}
			return payload
		},
		durable: func() int { return int(acknowledged.Load()) },
		exact:   func() int { return held(t, filepath.Join(folder, "readings.db")) },
	}
}

// hear subscribes, beside the publisher of the same user.
func hear(t *testing.T, at, user, filter string, heard mqtt.MessageHandler) {
	t.Helper()
	o := mqtt.NewClientOptions().AddBroker("tcp://" + at).SetClientID("ear:" + user).SetUsername(user).SetPassword(password)
	client := mqtt.NewClient(o)
	for _, ask := range []func() mqtt.Token{client.Connect, func() mqtt.Token { return client.Subscribe(filter, 1, heard) }} {
		if token := ask(); !token.WaitTimeout(time.Minute) || token.Error() != nil {
			t.Fatalf("%s listens to %s: %v", user, filter, token.Error())
		}
	}
	t.Cleanup(func() { client.Disconnect(100) })
}

// held counts the rounds in a file of readings that is in use.
func held(t *testing.T, path string) (n int) {
	s, err := sqlite.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = s.Close() }()
	now := time.Now()
	err = s.Rounds(t.Context(), store.Query{Room: chainRoom, From: now.AddDate(0, 0, -1), To: now.AddDate(0, 0, 1)}, func(sensors.Round) error {
		n++
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// The peer as somebody would set it up who wants no reading lost and none late:
// the broker queues without bound; the collector hands on a thousand readings
// or, at the latest, what came in a tenth of a second, and lets more of them wait
// than any window here; InfluxDB syncs every write, which is its default.
const (
	mosquittoConf = "listener %s 127.0.0.1\nuser root\nallow_anonymous true\npersistence true\npersistence_location %s/\nmax_inflight_messages 0\nmax_queued_messages 0\nset_tcp_nodelay true\n"
	telegrafConf  = `[agent]
flush_interval = "100ms"
metric_batch_size = 1000
metric_buffer_limit = 100000
omit_hostname = true
[[inputs.mqtt_consumer]]
servers = ["tcp://%s"]
topics = ["readings/+"]
topic_tag = ""
qos = 1
max_undelivered_messages = 50000
data_format = "influx"
[[outputs.influxdb]]
urls = [%q]
database = "year"
skip_database_creation = true
content_encoding = "identity"
`
)

// peerChain starts mosquitto, telegraf and InfluxDB. What is durable is what
// InfluxDB says it has written.
func peerChain(t *testing.T) chain {
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
	broker := up(t, &server{path: mosquitto, url: "http://" + at, args: []string{"-c", write("mosquitto.conf", fmt.Sprintf(mosquittoConf, number, home))}})
	collector := exec.Command(telegraf, "--quiet", "--config", write("telegraf.conf", fmt.Sprintf(telegrafConf, at, influx.url)))
	if err := collector.Start(); err != nil {
		t.Fatal(err)
	}
	s := &server{path: telegraf, command: collector}
	t.Cleanup(s.stop)
	began := time.Now()
	return chain{
		name: "mosquitto, telegraf, InfluxDB", broker: at, parts: []*server{influx, broker, s},
		topic: func(n int) string { return "readings/" + chainNode(n) },
		payload: func(n, seq int) []byte {
			r := measured(seq)
			r.Node, r.Time = chainNode(n), began.Add(time.Duration(seq)*time.Millisecond)
			return bytes.TrimSpace(lines([]sensors.Round{r}))
		},
		durable: watched(t, influx.url),
		exact:   func() int { return counted(influx.url) },
	}
}

// watched follows how many points InfluxDB has written, for as long as somebody
// asks. Counting them by a query would cost it more than writing them.
func watched(t *testing.T, at string) func() int {
	const every = 50 * time.Millisecond
	var known, asked atomic.Int64
	go func() {
		for t.Context().Err() == nil {
			time.Sleep(every)
			if time.Now().UnixMilli()-asked.Load() > 10*every.Milliseconds() {
				continue
			}
			if now, err := written(at); err == nil {
				known.Store(now)
			}
		}
	}()
	return func() int {
		asked.Store(time.Now().UnixMilli())
		return int(known.Load())
	}
}
