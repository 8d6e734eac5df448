package faults

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"recoat/internal/alert"
	"recoat/internal/hub"
	"recoat/internal/shop"
	"recoat/internal/store/sqlite"
	"recoat/internal/telemetry"
	"recoat/sensors"
)

// roleVariable makes the test binary one of the parts; its arguments follow
// with a '|' between them.
const roleVariable = "RECOAT_TEST_ROLE"

func TestMain(m *testing.M) {
	role := os.Getenv(roleVariable)
	if role == "" {
		os.Exit(m.Run())
	}
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGTERM)
	defer stop()
	args := strings.Split(role, "|")
	var err error
	switch args[0] {
	case "node":
		err = runNode(ctx, args[1], args[2], args[3], args[4])
	case "hub":
		err = runHub(ctx, args[1], args[2], args[3])
	case "broker":
		err = runBroker(ctx)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	os.Exit(0)
}

const (
	attic  = "attic"
	period = 25 * time.Millisecond
	wrong  = 85.0 // what a probe says that has just been powered: never a good reading
)

func log() *slog.Logger { return slog.New(slog.NewTextHandler(os.Stderr, nil)) }

// readings are what a node measures at a seq: known from it alone, so that what
// arrives can be told from what was made up. Every seventh is not good.
func readings(seq uint64) []sensors.Reading {
	air := sensors.Channel{Quantity: sensors.AirTemperature}
	humidity := sensors.Channel{Quantity: sensors.AirHumidity}
	all := []sensors.Reading{{Channel: air, Value: 22 + float64(seq%1000)/1000}, {Channel: humidity, Value: 50 + float64(seq%100)/100}}
	switch seq % 14 {
	case 0:
		all[0] = sensors.Reading{Channel: air, Value: wrong, Quality: sensors.Suspect}
	case 7:
		all[0] = sensors.Reading{Channel: air, Quality: sensors.Missing}
	}
	return all
}

// runNode takes numbered rounds, says each once it is durable, and sends them.
// Its clock is off by what the file beside its spool says.
func runNode(ctx context.Context, name, boot, path, url string) error {
	s, err := telemetry.OpenSpool(ctx, telemetry.SpoolConfig{Path: path, Node: name, Boot: boot, MaxBytes: 64 << 20})
	if err != nil {
		return err
	}
	c, err := telemetry.NewCourier(telemetry.CourierConfig{
		Link: telemetry.Link{URL: url, User: name, Password: "node-secret", Retry: 50 * time.Millisecond},
		Room: attic, Node: name, Boot: boot, Outbox: s, Log: log(), Resend: time.Second,
	})
	if err != nil {
		return err
	}
	ended := make(chan error, 1)
	go func() { ended <- c.Run(ctx) }()
	seq, err := s.LastSeq(ctx)
	began := time.Now().Add(-time.Duration(seq) * period)
	tick := time.NewTicker(period)
	defer tick.Stop()
	left := -1
	for err == nil {
		select {
		case <-ctx.Done():
			return errors.Join(<-ended, s.Close())
		case <-tick.C:
		}
		if _, stop := os.Stat(path + ".hold"); stop == nil {
			st, err := s.Stats(ctx)
			if err == nil && st.Pending == 0 {
				fmt.Println("drained")
			} else if err == nil && int(st.Pending) != left {
				left = int(st.Pending)
				fmt.Println("left", left)
			}
			continue
		}
		seq++
		r := sensors.Round{Node: name, Boot: boot, Seq: seq, Time: time.Now().Add(offset(path)), Uptime: time.Since(began), ClockSet: true, Readings: readings(seq)}
		if err := s.Append(ctx, r); err != nil {
			fmt.Fprintln(os.Stderr, "not spooled:", err)
			seq-- // nobody was told of it
			if last, err := s.LastSeq(ctx); err == nil {
				seq = last
			}
			continue
		}
		fmt.Println("have", seq)
	}
	return err
}

func offset(path string) time.Duration {
	text, err := os.ReadFile(path + ".clock")
	if err != nil {
		return 0
	}
	d, _ := time.ParseDuration(string(text)) // what cannot be read is no offset
	return d
}

func runBroker(ctx context.Context) error {
	b, err := telemetry.ListenBroker(ctx, telemetry.BrokerConfig{Addr: "127.0.0.1:0", Log: log(), Users: []telemetry.User{
		telemetry.HubUser("hub", "hub-secret"), telemetry.AgentUser("bench", "node-secret", attic, "bench"), telemetry.AgentUser("door", "node-secret", attic, "door"),
	}})
	if err != nil {
		return err
	}
	fmt.Println("at", b.Addr())
	return b.Run(ctx)
}

// runHub is the hub with its files in a folder, and a plain HTTP address for a
// phone. It says whenever the air it shows can only come of a bad reading.
func runHub(ctx context.Context, folder, url, phone string) error {
	s, err := sqlite.Open(ctx, filepath.Join(folder, "readings.db"))
	if err != nil {
		return err
	}
	j, err := shop.OpenJournal(ctx, filepath.Join(folder, "journal.db"))
	if err != nil {
		return err
	}
	o, err := alert.OpenOutbox(ctx, filepath.Join(folder, "outbox.db"))
	if err != nil {
		return err
	}
	channels, err := alert.ParseChannels([]string{phone})
	if err != nil {
		return err
	}
	began, ids := time.Now(), 0
	h := hub.New(hub.Options{
		Readings: s, Journal: j, Decisions: o, Channels: []string{channels[0].Name()}, Log: log(), Tick: 200 * time.Millisecond, Batch: 50 * time.Millisecond,
		NewID: func() string { ids++; return fmt.Sprintf("%d-%d", began.UnixNano(), ids) },
		Now:   func() alert.Instant { return alert.Instant{Wall: time.Now(), Mono: time.Since(began)} },
	})
	courier, err := alert.NewCourier(alert.CourierConfig{Outbox: o, Channels: channels, Log: log(), Now: time.Now, Jitter: func() float64 { return 0 }})
	if err != nil {
		return err
	}
	receiver, err := telemetry.NewReceiver(telemetry.ReceiverConfig{
		Link: telemetry.Link{URL: url, User: "hub", Password: "hub-secret", Retry: 50 * time.Millisecond}, Handle: h.Deliver, HandleState: h.Report, Log: log(),
	})
	if err != nil {
		return err
	}
	var parts sync.WaitGroup
	for _, run := range []func(context.Context) error{h.Run, courier.Run, receiver.Run} {
		parts.Go(func() {
			if err := run(ctx); err != nil {
				fmt.Fprintln(os.Stderr, err)
			}
		})
	}
	parts.Go(func() { watch(ctx, h) })
	parts.Wait()
	return errors.Join(o.Close(), j.Close(), s.Close())
}

func watch(ctx context.Context, h *hub.Hub) {
	<-h.Ready()
	fmt.Println("ready")
	for {
		select {
		case <-ctx.Done():
			return
		case <-time.After(50 * time.Millisecond):
		}
		for _, s := range h.Snapshots() {
			if s.Air != nil && (s.Air.Air > wrong-1 || s.Air.Air < 20) {
				fmt.Println("bad", s.Air.Air)
			}
		}
	}
}

// child is a part that runs as a process of its own.
type child struct {
	command *exec.Cmd
	said    chan string // lines, closed at the end
}

// launch starts a part, and hands every line it says to hear.
func launch(t *testing.T, errors *os.File, hear func(string), args ...string) *child {
	t.Helper()
	c := exec.Command(os.Args[0])
	c.Env = append(os.Environ(), roleVariable+"="+strings.Join(args, "|"))
	c.Stderr = errors
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	k := &child{command: c, said: make(chan string)}
	go func() {
		defer close(k.said)
		for lines := bufio.NewReader(out); ; {
			line, err := lines.ReadString('\n')
			if err != nil {
				return // a line without its end was not said
			}
			hear(strings.TrimSuffix(line, "\n"))
		}
	}()
	t.Cleanup(func() { k.kill() })
	return k
}

// kill ends a part as a power switch does, and returns once all it said has
// been heard.
func (k *child) kill() {
	_ = k.command.Process.Kill()
	<-k.said
	_ = k.command.Wait()
}
