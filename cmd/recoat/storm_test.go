package main

import (
	"context"
	"crypto/tls"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"recoat/internal/store"
	"recoat/internal/store/sqlite"
	"recoat/internal/telemetry"
	"recoat/internal/telemetry/mosquittotest"
	"recoat/sensors"
)

const (
	stormNodes  = 60
	stormRounds = 12 // of each node: a third before, during and after the broker is away
)

// storm is many nodes with spools of their own, all in this process.
type storm struct {
	spools []*telemetry.Spool
	seq    uint64
}

func stormNode(n int) string { return fmt.Sprintf("node-%d", n) }

// stormUsers are the nodes' passwords, and for each the block that the shipped
// access list gives a node.
func stormUsers(t *testing.T) (users map[string]string, access string) {
	t.Helper()
	users = map[string]string{"hub": passwords["hub"]}
	_, block, found := strings.Cut(shipped(t, "../../deploy/mosquitto/recoat.access"), "user bench\n")
	if !found {
		t.Fatal("the shipped access list has no block of a node")
	}
	for n := range stormNodes {
		name := stormNode(n)
		users[name] = "pw-" + name
		access += "user " + name + "\n" + strings.ReplaceAll(block, "/bench/", "/"+name+"/") + "\n"
	}
	return users, access
}

func startStorm(t *testing.T, b *mosquittotest.Broker, nodes int) *storm {
	t.Helper()
	s := &storm{}
	trust := trustOf(t, b)
	ctx, stop := context.WithCancel(context.Background())
	var running sync.WaitGroup
	t.Cleanup(func() {
		stop()
		running.Wait()
		for _, spool := range s.spools {
			_ = spool.Close()
		}
	})
	folder := t.TempDir()
	for n := range nodes {
		name := stormNode(n)
		spool, err := telemetry.OpenSpool(t.Context(), telemetry.SpoolConfig{Path: filepath.Join(folder, name+".db"), Node: name, Boot: "boot-" + name, MaxBytes: 8 << 20})
		if err != nil {
			t.Fatal(err)
		}
		s.spools = append(s.spools, spool)
		courier, err := telemetry.NewCourier(telemetry.CourierConfig{
			Link: telemetry.Link{URL: b.URL, User: name, Password: "pw-" + name, TLS: trust, Retry: time.Second},
			Room: "back-room", Node: name, Boot: "boot-" + name, Outbox: spool, Log: slog.New(slog.DiscardHandler), Resend: 5 * time.Second,
		})
		if err != nil {
			t.Fatal(err)
		}
		running.Go(func() { _ = courier.Run(ctx) })
	}
	return s
}

// measure takes some rounds at every node.
func (s *storm) measure(t *testing.T, rounds int) {
	t.Helper()
	for range rounds {
		s.seq++
		for n, spool := range s.spools {
			name := stormNode(n)
			err := spool.Append(t.Context(), sensors.Round{
				Node: name, Boot: "boot-" + name, Seq: s.seq, Time: time.Now().Truncate(time.Millisecond), Uptime: time.Duration(s.seq) * time.Second, ClockSet: true,
				Readings: []sensors.Reading{{Channel: sensors.Channel{Quantity: sensors.AirTemperature}, Value: 18 + float64(n)/10}, {Channel: sensors.Channel{Quantity: sensors.AirHumidity}, Value: 55}},
			})
			if err != nil {
				t.Fatal(err)
			}
		}
	}
}

// waiting is how many rounds the hub has not said to be stored.
func (s *storm) waiting(t *testing.T) (n int64) {
	t.Helper()
	for _, spool := range s.spools {
		st, err := spool.Stats(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		n += st.Pending
	}
	return n
}

func (s *storm) drained(t *testing.T, what string) time.Duration {
	t.Helper()
	began := time.Now()
	for s.waiting(t) > 0 {
		if time.Since(began) > 3*time.Minute {
			t.Fatalf("%s: %d rounds wait still", what, s.waiting(t))
		}
		time.Sleep(100 * time.Millisecond)
	}
	return time.Since(began)
}

// All nodes of a shop lose their broker at once, in the middle of sending, and it
// comes back with what it knew or without. All come back; what was measured
// meanwhile, and what was under way, is in the hub's store once.
func TestEveryNodeComesBackAfterTheBrokerWasAway(t *testing.T) {
	for name, forgets := range map[string]bool{"it remembers its sessions": false, "it forgets them": true} {
		t.Run(name, func(t *testing.T) {
			users, access := stormUsers(t)
			b := mosquittotest.Start(t, mosquittotest.Options{Users: users, More: access, Forgets: forgets})
			settings := shopBroker{b}.config(t, "bench", "hub")
			hub := running(t, "hub", "--config", settings)
			hub.find(t, "("+address.String()+")")
			s := startStorm(t, b, stormNodes)
			s.measure(t, stormRounds/3)
			s.drained(t, "before")
			busy := hub.processor(t)

			s.measure(t, stormRounds/3) // under way
			if forgets {
				b.Kill(t)
			} else {
				b.Stop(t) // it writes its sessions down
			}
			time.Sleep(2 * time.Second)
			b.Begin(t)
			s.measure(t, stormRounds/3)
			took := s.drained(t, "after the broker came back")
			t.Logf("%d nodes: all stored %s after the broker was back; the hub took %s of processor and held %d MB at most",
				stormNodes, took.Round(100*time.Millisecond), hub.processor(t)-busy, hub.peak(t)>>20)
			if at := hub.peak(t); at > 200<<20 {
				t.Errorf("the hub held %d MB", at>>20)
			}
			if used := hub.processor(t) - busy; used > 30*time.Second {
				t.Errorf("the hub took %s of processor for %d rounds", used, stormNodes*stormRounds*2/3)
			}
			hub.end(t)
			if n, distinct := storedRounds(t, settings); n != stormNodes*stormRounds || distinct != n {
				t.Errorf("%d rounds are stored, %d of them distinct, want %d", n, distinct, stormNodes*stormRounds)
			}
		})
	}
}

// A broker of MQTT 5 that allows a client of 3.1.1 as little as it can (one
// message under way, two that wait, no client without a name) delays rounds, and
// loses none: what it drops while the hub is away comes from the spools again.
func TestABrokerWithNarrowLimitsLosesNothing(t *testing.T) {
	const nodes, rounds = 3, 30
	users, access := stormUsers(t)
	b := mosquittotest.Start(t, mosquittotest.Options{
		Users: users, More: access,
		Settings: "max_inflight_messages 1\nmax_queued_messages 2\nmessage_size_limit 65536\nallow_zero_length_clientid false\n",
	})
	settings := shopBroker{b}.config(t, "bench", "hub")
	hub := running(t, "hub", "--config", settings)
	hub.find(t, "("+address.String()+")")
	s := startStorm(t, b, nodes)
	s.measure(t, 2)
	s.drained(t, "before")
	hub.end(t)
	s.measure(t, rounds)
	time.Sleep(time.Second) // they are sent, and the broker has room for two
	hub = running(t, "hub", "--config", settings)
	hub.find(t, "("+address.String()+")")
	s.drained(t, "after the hub came back")
	hub.end(t)
	if n, distinct := storedRounds(t, settings); n != nodes*(rounds+2) || distinct != n {
		t.Errorf("%d rounds are stored, %d of them distinct, want %d", n, distinct, nodes*(rounds+2))
	}

	nameless := mqtt.NewClient(mqtt.NewClientOptions().AddBroker(b.URL).SetTLSConfig(trustOf(t, b)).SetClientID("").
		SetUsername("hub").SetPassword(passwords["hub"]).SetAutoReconnect(false))
	if token := nameless.Connect(); !token.WaitTimeout(20*time.Second) || token.Error() == nil {
		t.Error("the broker lets a client without a name in: its limits are not those of the test")
	}
	nameless.Disconnect(0)
}

func trustOf(t *testing.T, b *mosquittotest.Broker) *tls.Config {
	t.Helper()
	trust, err := brokerConfig{URL: b.URL, CAFile: b.CA}.trust()
	if err != nil {
		t.Fatal(err)
	}
	return trust
}

// storedRounds counts what the hub of these settings has stored.
func storedRounds(t *testing.T, settings string) (n, distinct int) {
	t.Helper()
	cfg, err := loadConfig(settings)
	if err != nil {
		t.Fatal(err)
	}
	file, err := sqlite.Open(t.Context(), folder(cfg.Data.Folder).readings())
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = file.Close() }()
	seen := map[string]bool{}
	q := store.Query{Room: "back-room", From: time.Now().Add(-24 * time.Hour), To: time.Now().Add(24 * time.Hour)}
	err = file.Rounds(t.Context(), q, func(r sensors.Round) error {
		n++
		seen[fmt.Sprint(r.Node, r.Boot, r.Seq)] = true
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return n, len(seen)
}

var peakLine = regexp.MustCompile(`VmHWM:\s+(\d+) kB`)

// peak is the most memory that the process held, in bytes.
func (r recoatRunning) peak(t *testing.T) int64 {
	t.Helper()
	m := peakLine.FindStringSubmatch(shipped(t, fmt.Sprintf("/proc/%d/status", r.pid)))
	if m == nil {
		t.Fatal("the kernel does not tell how much memory the hub holds")
	}
	kilo, err := strconv.ParseInt(m[1], 10, 64)
	if err != nil {
		t.Fatal(err)
	}
	return kilo << 10
}

// processor is how long it has been computing: fields 14 and 15 of proc(5)'s
// stat, in hundredths of a second.
func (r recoatRunning) processor(t *testing.T) time.Duration {
	t.Helper()
	text := shipped(t, fmt.Sprintf("/proc/%d/stat", r.pid))
	fields := strings.Fields(text[strings.LastIndexByte(text, ')')+1:])
	var ticks int64
	for _, f := range fields[11:13] {
		n, err := strconv.ParseInt(f, 10, 64)
		if err != nil {
			t.Fatal(err)
		}
		ticks += n
	}
	return time.Duration(ticks) * 10 * time.Millisecond
}

// end stops the process in order and waits for it.
func (r recoatRunning) end(t *testing.T) {
	t.Helper()
	p, err := os.FindProcess(r.pid)
	if err == nil {
		err = p.Signal(os.Interrupt)
	}
	if err != nil {
		t.Fatal(err)
	}
	for end := time.Now().Add(time.Minute); ; time.Sleep(50 * time.Millisecond) {
		state, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", r.pid))
		if err != nil || strings.Contains(string(state), ") Z ") {
			return
		}
		if time.Now().After(end) {
			t.Fatal("the hub does not end")
		}
	}
}

// A node that is killed says nothing more: the broker says it is offline, and when
// it starts again it says itself that it is there.
func TestTheHubHearsThatANodeIsGoneAndThereAgain(t *testing.T) {
	b := startShopBroker(t)
	trust := trustOf(t, b.Broker)
	reports := make(chan telemetry.Report, 100)
	hub, err := telemetry.NewReceiver(telemetry.ReceiverConfig{
		Link: telemetry.Link{URL: b.URL, User: "hub", Password: passwords["hub"], TLS: trust}, Log: slog.New(slog.DiscardHandler),
		Handle: func(telemetry.Delivery) {}, HandleState: func(r telemetry.Report) { reports <- r },
	})
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- hub.Run(ctx) }()
	defer func() { stop(); <-ended }()
	heard := func(what string, online bool) {
		t.Helper()
		for end := time.After(time.Minute); ; {
			select {
			case r := <-reports:
				if r.Node == "bench" && r.Online == online {
					return
				}
			case <-end:
				t.Fatalf("not within a minute: %s", what)
			}
		}
	}
	settings := b.config(t, "bench", "bench")
	agent := start(t, "agent", "--config", settings)
	heard("the node is there", true)
	if err := agent.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	heard("the node is gone", false)
	_ = agent.Wait()
	start(t, "agent", "--config", settings)
	heard("the node is there again", true)
}
