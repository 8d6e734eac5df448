package agent

import (
	"bytes"
	"context"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/internal/telemetry"
	"recoat/sensors"
	"recoat/sensors/poll"
)

const (
	patience = 20 * time.Second
	boot     = "6f3c1a52-0000-4000-8000-0000000000a1"
)

// dusk is when the nodes of the tests read.
var dusk = time.Date(2026, 3, 1, 18, 0, 0, 0, time.UTC)

// steady is a sensor that always says the same.
type steady struct{}

func (steady) Name() string { return "steady" }

func (steady) Channels() []sensors.Channel {
	return []sensors.Channel{{Quantity: sensors.AirTemperature}, {Quantity: sensors.AirHumidity}}
}

func (s steady) Read(context.Context) ([]sensors.Reading, error) {
	return []sensors.Reading{{Channel: s.Channels()[0], Value: 21.5}, {Channel: s.Channels()[1], Value: 48}}, nil
}

// stopped is a clock that stands still.
type stopped struct{ now poll.Instant }

func (s stopped) Now() poll.Instant { return s.now }

// logged collects what an agent logged.
type logged struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *logged) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *logged) count(s string) int {
	l.mu.Lock()
	defer l.mu.Unlock()
	return strings.Count(l.b.String(), s)
}

// config is that of an agent whose broker cannot be reached.
func config(folder string) (Config, *logged) {
	l := &logged{}
	return Config{
		Room: "back-room", Node: "bench", Boot: boot, Period: time.Hour,
		Clock: stopped{poll.Instant{Wall: dusk, Uptime: time.Hour, Set: true}}, Buses: []*poll.Bus{poll.NewBus(poll.BusConfig{Guards: []*poll.Guard{poll.NewGuard(poll.Over(steady{}))}})},
		Spool: filepath.Join(folder, "spool.db"), Resend: 200 * time.Millisecond,
		Link: telemetry.Link{URL: "tcp://127.0.0.1:1", Retry: 50 * time.Millisecond}, Log: slog.New(slog.NewTextHandler(l, nil)),
	}, l
}

func open(t *testing.T, cfg Config) *Agent {
	t.Helper()
	a, err := Open(t.Context(), cfg)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = a.Close() })
	return a
}

// once takes a round so long after the machine started.
func once(t *testing.T, a *Agent, wall time.Time, uptime time.Duration, set bool) {
	t.Helper()
	if err := a.Once(t.Context(), poll.Instant{Wall: wall, Uptime: uptime, Set: set}); err != nil {
		t.Fatal(err)
	}
}

// spooled is what waits to be sent.
func spooled(t *testing.T, a *Agent) []sensors.Round {
	t.Helper()
	entries, err := a.spool.Pending(t.Context(), telemetry.Place{}, 1000)
	if err != nil {
		t.Fatal(err)
	}
	var all []sensors.Round
	for _, e := range entries {
		all = append(all, e.Round)
	}
	return all
}

func seqs(rounds []sensors.Round) []uint64 {
	var all []uint64
	for _, r := range rounds {
		all = append(all, r.Seq)
	}
	return all
}

func TestARoundThatIsNotSentOutlivesTheAgent(t *testing.T) {
	folder := t.TempDir()
	cfg, _ := config(folder)
	a := open(t, cfg)
	for i := range 3 {
		once(t, a, dusk.Add(time.Duration(i)*time.Minute), time.Duration(i)*time.Minute, true)
	}
	want := spooled(t, a)
	if len(want) != 3 || want[0].Readings[0].Value != 21.5 || !want[2].Time.Equal(dusk.Add(2*time.Minute)) {
		t.Fatalf("%+v", want)
	}
	if err := a.Close(); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, spooled(t, open(t, cfg))); diff != "" {
		t.Error(diff)
	}
	if h := a.Health(); len(h) != 1 || !h[0].OK || h[0].Source != "steady" {
		t.Errorf("%+v", h)
	}
}

func TestCountingGoesOnWithinABootAndBeginsAnewInTheNext(t *testing.T) {
	folder := t.TempDir()
	cfg, _ := config(folder)
	for range 2 { // the agent is started twice within a boot
		a := open(t, cfg)
		once(t, a, dusk, time.Minute, true)
		once(t, a, dusk, time.Minute, true)
		_ = a.Close()
	}
	cfg.Boot = strings.Replace(boot, "a1", "b2", 1)
	a := open(t, cfg)
	once(t, a, dusk, time.Minute, true)
	got := spooled(t, a)
	if diff := cmp.Diff([]uint64{1, 2, 3, 4, 1}, seqs(got)); diff != "" {
		t.Error(diff)
	}
	if got[4].Boot != cfg.Boot {
		t.Errorf("the last is of boot %s", got[4].Boot)
	}
}

// A Pi without a network starts in 1970 or where it was switched off.
func TestAClockThatIsSetCorrectsTheRoundsOfThisBoot(t *testing.T) {
	for name, wrong := range map[string]time.Time{"1970": time.Unix(60, 0), "last week": dusk.Add(-7 * 24 * time.Hour)} {
		t.Run(name, func(t *testing.T) {
			folder := t.TempDir()
			cfg, _ := config(folder)
			cfg.Boot = strings.Replace(boot, "a1", "00", 1)
			old := open(t, cfg) // an earlier boot, whose clock was never set
			once(t, old, wrong, time.Minute, false)
			_ = old.Close()
			cfg.Boot = boot
			a := open(t, cfg)
			once(t, a, wrong, time.Minute, false)
			once(t, a, wrong.Add(time.Minute), 2*time.Minute, false)
			once(t, a, dusk, 5*time.Minute, true)
			got := spooled(t, a)
			if diff := cmp.Diff([]uint64{1, 1, 2, 3}, seqs(got)); diff != "" {
				t.Fatal(diff)
			}
			if got[0].ClockSet {
				t.Error("a round of another boot was given a time")
			}
			for i, ago := range []time.Duration{4 * time.Minute, 3 * time.Minute, 0} {
				if r := got[i+1]; !r.ClockSet || !r.Time.Equal(dusk.Add(-ago)) {
					t.Errorf("round %d is of %s, set %v; it was taken %s before six", r.Seq, r.Time, r.ClockSet, ago)
				}
			}
		})
	}
}

func TestACorrectionThatFailsIsTriedAgain(t *testing.T) {
	folder := t.TempDir()
	cfg, l := config(folder)
	a := open(t, cfg)
	once(t, a, dusk.Add(-time.Hour), time.Minute, false)
	const century = 100 * 365 * 24 * time.Hour // an uptime that cannot be
	once(t, a, dusk, century, true)
	once(t, a, dusk, century, true)
	if spooled(t, a)[0].ClockSet || l.count("could not be corrected") != 1 {
		t.Errorf("%+v, said %d times", spooled(t, a)[0], l.count("could not be corrected"))
	}
	once(t, a, dusk, 11*time.Minute, true)
	if r := spooled(t, a)[0]; !r.ClockSet || !r.Time.Equal(dusk.Add(-10*time.Minute)) {
		t.Errorf("%+v", r)
	}
}

func TestASpoolThatFailsIsToldOfOnceAndSamplingGoesOn(t *testing.T) {
	folder := t.TempDir()
	cfg, l := config(folder)
	a := open(t, cfg)
	if err := a.spool.Close(); err != nil {
		t.Fatal(err)
	}
	for range 3 {
		once(t, a, dusk, time.Minute, false)
	}
	if n := l.count("could not be spooled"); n != 1 {
		t.Errorf("told %d times", n)
	}
}

func TestAnAgentThatCannotBeIsRefused(t *testing.T) {
	for name, spoil := range map[string]func(*Config){
		"no sensor":  func(c *Config) { c.Buses = nil },
		"no broker":  func(c *Config) { c.Link.URL = "" },
		"no boot":    func(c *Config) { c.Boot = "" },
		"no room":    func(c *Config) { c.Room = "" },
		"small disk": func(c *Config) { c.SpoolBytes = 1 },
	} {
		cfg, _ := config(t.TempDir())
		spoil(&cfg)
		if a, err := Open(t.Context(), cfg); err == nil {
			t.Errorf("%s: it is opened", name)
			_ = a.Close()
		}
	}
}

func TestBootIsTheMachinesOrARandomOne(t *testing.T) {
	root := t.TempDir()
	log := slog.New(slog.DiscardHandler)
	random := func() string { return "drawn" }
	if got := Boot(root, random, log); got != "drawn" {
		t.Errorf("a machine without a boot id has %q", got)
	}
	path := filepath.Join(root, "proc/sys/kernel/random")
	if err := os.MkdirAll(path, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(path, "boot_id"), []byte(boot+"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if got := Boot(root, random, log); got != boot {
		t.Errorf("got %q, want the machine's %q", got, boot)
	}
}

// Each vital stops by itself: a spool that fails stops not the sampling.
func TestVitalsTellWhatGoesOn(t *testing.T) {
	cfg, _ := config(t.TempDir())
	a := open(t, cfg)
	once(t, a, dusk, time.Minute, true)
	if a.Sampled() != 1 || a.Spooled() != 1 {
		t.Errorf("after a round: sampled %d, spooled %d", a.Sampled(), a.Spooled())
	}
	if got, want := a.Status(t.Context()), "reading 1 sensor; waiting for the hub: 1 round"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if err := a.spool.Close(); err != nil {
		t.Fatal(err)
	}
	once(t, a, dusk, 2*time.Minute, true)
	if a.Sampled() != 2 || a.Spooled() != 1 {
		t.Errorf("after a round that was lost: sampled %d, spooled %d", a.Sampled(), a.Spooled())
	}
	if got := a.Status(t.Context()); !strings.Contains(got, "the spool cannot be read") {
		t.Errorf("%q", got)
	}
}

func TestABusThatHangsStopsTheSampling(t *testing.T) {
	cfg, _ := config(t.TempDir())
	hung := make(chan struct{})
	defer close(hung)
	cfg.Period = time.Second // and so the read's deadline
	cfg.Buses = []*poll.Bus{poll.NewBus(poll.BusConfig{Guards: []*poll.Guard{poll.NewGuard(poll.Over(hangs{steady{}, hung}))}})}
	a := open(t, cfg)
	once(t, a, dusk, time.Minute, true)
	if a.Sampled() != 0 || a.Spooled() != 1 {
		t.Errorf("sampled %d, spooled %d", a.Sampled(), a.Spooled())
	}
	if got, want := a.Status(t.Context()), "reading 1 sensor, 1 without a value; waiting for the hub: 1 round"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// hangs is a sensor whose bus never answers.
type hangs struct {
	steady
	until <-chan struct{}
}

func (h hangs) Read(context.Context) ([]sensors.Reading, error) {
	<-h.until
	return nil, context.Canceled
}
