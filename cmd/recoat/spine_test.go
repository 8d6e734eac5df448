package main

import (
	"context"
	"fmt"
	"log/slog"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"recoat/internal/agent"
	"recoat/internal/demo"
	"recoat/internal/shop"
	"recoat/internal/store"
	"recoat/sensors"
	"recoat/sensors/chip"
	"recoat/sensors/emulated"
	"recoat/sensors/kernel"
	"recoat/sensors/poll"
)

// quick is an invented product that is ready soon.
const quick = `
name = "Short Lane test coat"
family = "waterborne"
[stated]
air = "23C"
rh = 50
touch = "2m"
recoat = "10m"
handle = "30d"
cure = "60d"
`

const probe = "28-0000000d0099"

// writeConfig writes a configuration whose pages take any free port and whose
// alerts go to url, and returns its path and the data folder.
func writeConfig(t *testing.T, url string) (path, data string) {
	t.Helper()
	folder := t.TempDir()
	path, data = filepath.Join(folder, "recoat.toml"), filepath.Join(folder, "data")
	text := fmt.Sprintf("[pages]\nlisten = \"127.0.0.1:0\"\n[data]\nfolder = %q\n[sensors]\nevery = \"1s\"\n[alerts]\nchannels = [%q]\n", data, url)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path, data
}

// addCoat writes into a journal that a quick coat went onto a piece so long
// before now.
func addCoat(t *testing.T, j *shop.Journal, room string, now time.Time, ago time.Duration) {
	t.Helper()
	ctx := t.Context()
	label, err := shop.LoadProduct(strings.NewReader(quick), "quick")
	if err != nil {
		t.Fatal(err)
	}
	product, err := j.PutProduct(ctx, label, now)
	if err != nil {
		t.Fatal(err)
	}
	piece, err := j.AddPiece(ctx, shop.Piece{Name: "Hall table", Parts: []shop.Part{{Name: "top", Room: room, Probe: probe}}}, now)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := j.ApplyCoat(ctx, shop.Application{Part: piece.Parts[0].ID, Product: product.ID, Applied: now.Add(-ago)}, now); err != nil {
		t.Fatal(err)
	}
}

// bench is a node with one emulated BME280 and one emulated surface probe, read
// through the drivers a Pi uses.
func bench(t *testing.T) (*emulated.BME280, *emulated.OneWire, []*poll.Guard) {
	t.Helper()
	air := emulated.NewBME280(0x76, emulated.Typical())
	air.Set(21.3, 52.4, 100900)
	wire := &emulated.OneWire{Root: t.TempDir()}
	if err := wire.Set(probe, 19.25); err != nil {
		t.Fatal(err)
	}
	probes, err := kernel.DiscoverW1(wire.Root)
	if err != nil || len(probes) != 1 {
		t.Fatalf("%d probes, %v", len(probes), err)
	}
	return air, wire, []*poll.Guard{
		poll.NewGuard(poll.GuardConfig{
			Name: "bme280", Channels: chip.BME280Channels(),
			Open: func() (sensors.Source, error) { return chip.OpenBME280(air, 0x76, "emulated") },
		}),
		poll.NewGuard(poll.Over(probes[0])),
	}
}

// From registers to a message: the chip's bytes, the driver, the spool, the
// broker, the store, the drying model, the outbox, and a real HTTP server.
func TestFromChipRegistersToTheMessage(t *testing.T) {
	sink := newSink(t, false)
	path, data := writeConfig(t, sink.URL+"/phone")
	cfg, err := loadConfig(path)
	if err != nil {
		t.Fatal(err)
	}
	p := &parts{}
	t.Cleanup(func() { _ = p.close() })
	h := &house{cfg: cfg, log: slog.New(slog.NewTextHandler(testWriter{t}, nil)), parts: p}
	if err := h.open(t.Context(), data); err != nil {
		t.Fatal(err)
	}
	now := time.Now()
	addCoat(t, h.journal, cfg.Room.ID, now, 40*time.Minute)
	hubLink, agentLink, err := h.embedBroker(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if err := h.serve(hubLink); err != nil {
		t.Fatal(err)
	}
	_, _, guards := bench(t)
	a, err := agent.Open(t.Context(), agent.Config{
		Room: cfg.Room.ID, Node: cfg.Room.Node, Boot: "boot-1", Period: time.Second,
		Clock: demo.Clock{Began: now.Add(-time.Hour)}, Buses: []*poll.Bus{poll.NewBus(poll.BusConfig{Guards: guards})},
		Spool: h.folder.spool(), Link: agentLink, Resend: resendNearby, Log: h.log,
	})
	if err != nil {
		t.Fatal(err)
	}
	p.onClose(a.Close)
	for at := now.Add(-40 * time.Minute); at.Before(now); at = at.Add(time.Minute) {
		if err := a.Once(t.Context(), poll.Instant{Wall: at, Uptime: at.Sub(now) + time.Hour, Set: true}); err != nil {
			t.Fatal(err)
		}
	}
	p.add("agent", a.Run)
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- p.run(ctx) }()

	message := await(t, sink.arrived, func(m posted) bool { return strings.Contains(m.Title, "Hall table, top") })
	if want := "Touch test, then recoat: Hall table, top"; message.Title != want || message.Cause != "first" || message.Room != cfg.Room.ID || message.key == "" {
		t.Errorf("the message is %+v, its title should be %q", message, want)
	}
	for _, want := range []string{"The label says 10 min", "touch decides"} {
		if !strings.Contains(message.Body, want) {
			t.Errorf("no %q in the body:\n%s", want, message.Body)
		}
	}
	checkStored(t, h, cfg.Room.ID, now)
	stop()
	if err := <-ended; err != nil {
		t.Errorf("it ended with: %v", err)
	}
}

// checkStored asserts that what was in the chip's registers is what the store
// holds, forty minutes of it and what came since, once the last batch is in.
func checkStored(t *testing.T, h *house, room string, now time.Time) {
	t.Helper()
	rounds := 0
	for deadline := time.Now().Add(20 * time.Second); rounds < 40 && time.Now().Before(deadline); {
		rounds = countStored(t, h, room, now)
	}
	if rounds < 40 {
		t.Errorf("%d rounds stored", rounds)
	}
}

func countStored(t *testing.T, h *house, room string, now time.Time) (rounds int) {
	t.Helper()
	err := h.store.Rounds(t.Context(), store.Query{Room: room, From: now.Add(-time.Hour), To: now.Add(time.Hour)}, func(r sensors.Round) error {
		rounds++
		for q, want := range map[sensors.Channel]float64{
			{Quantity: sensors.AirTemperature}:                   21.3,
			{Quantity: sensors.AirHumidity}:                      52.4,
			{Quantity: sensors.AirPressure}:                      100900,
			{Quantity: sensors.SurfaceTemperature, Probe: probe}: 19.25,
		} {
			if got, good := r.Value(q); !good || math.Abs(got-want) > 2e-4*want {
				t.Errorf("%s: %s is %v (good %v), the chip was set to %v", r.Time, q, got, good, want)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return rounds
}

// await takes messages until one fits, for at most half a minute.
func await(t *testing.T, arrived <-chan posted, fits func(posted) bool) posted {
	t.Helper()
	deadline := time.After(30 * time.Second)
	for {
		select {
		case m := <-arrived:
			if fits(m) {
				return m
			}
			t.Logf("another message: %s", m.Title)
		case <-deadline:
			t.Fatal("no such message in half a minute")
		}
	}
}

// testWriter sends a log to the test's own.
type testWriter struct{ t *testing.T }

func (w testWriter) Write(p []byte) (int, error) {
	w.t.Logf("%s", strings.TrimSpace(string(p)))
	return len(p), nil
}
