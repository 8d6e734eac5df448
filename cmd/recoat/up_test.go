package main

import (
	"bufio"
	"context"
	"errors"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"recoat/internal/alert"
	"recoat/sensors/wiring"
)

// A shop that has run with sensors is never given a simulated room for its own.
func TestNoRoomIsSimulatedWhereOneWasMeasured(t *testing.T) {
	data := t.TempDir()
	if err := neverMeasured(data, wiring.ErrNone); err != nil {
		t.Errorf("a new folder: %v", err)
	}
	if err := neverMeasured(filepath.Join(data, "not made yet"), wiring.ErrNone); err != nil {
		t.Errorf("no folder: %v", err)
	}
	if err := os.WriteFile(folder(data).readings(), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	err := neverMeasured(data, wiring.ErrNone)
	if !errors.Is(err, wiring.ErrNone) {
		t.Fatal(err)
	}
	for _, want := range []string{data, "recoat doctor", "--simulate"} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("no %q in: %v", want, err)
		}
	}
	if err := neverMeasured(sealedFolder(t), wiring.ErrNone); err == nil {
		t.Error("a folder that cannot be looked into counts as one without readings")
	}
}

// A laptop may have a bus with nothing on it: a first try shows the simulated
// room. A shop that has a configuration is told of what fails instead.
func TestOnlyAFirstTryIsSimulatedWhereSensorsFail(t *testing.T) {
	log := slog.New(slog.DiscardHandler)
	cfg := defaults()
	cfg.Data.Folder, cfg.Sensors.Root, cfg.Sensors.I2C = t.TempDir(), t.TempDir(), "no-such-bus"
	if _, simulated, err := (&upCommand{}).sensors(cfg, log); !simulated || err != nil {
		t.Errorf("a first try: simulated %v, %v", simulated, err)
	}
	if _, simulated, err := (&upCommand{Config: "recoat.toml"}).sensors(cfg, log); simulated || err == nil {
		t.Errorf("with a configuration: simulated %v, %v", simulated, err)
	}
	if err := os.WriteFile(folder(cfg.Data.Folder).readings(), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, _, err := (&upCommand{}).sensors(cfg, log); err == nil {
		t.Error("a shop that has measured is given a simulated room")
	}
}

// The phone hears of a simulated room only if asked to.
func TestASimulatedRoomDoesNotAlertThePhone(t *testing.T) {
	cfg := defaults()
	cfg.Alerts.Channels, cfg.Alerts.Second = []string{"https://phone.example/one"}, []string{"https://phone.example/two"}
	log := slog.New(slog.DiscardHandler)
	w, err := (&house{cfg: cfg, log: log, simulated: true, mute: true}).channels()
	if err != nil || len(w.first) != 1 || len(w.second) != 0 || w.first[0].Name() != alert.NewLogChannel(log).Name() {
		t.Errorf("muted: %v, %v", names(w.all()), err)
	}
	w, err = (&house{cfg: cfg, log: log, simulated: true}).channels()
	if err != nil || len(w.first) != 1 || len(w.second) != 1 || w.first[0].Name() == alert.NewLogChannel(log).Name() {
		t.Errorf("with --alert: %v, %v", names(w.all()), err)
	}
}

func TestUpSaysWhatIsSimulated(t *testing.T) {
	for _, c := range []struct {
		args []string
		mute bool
	}{{[]string{"up", "--simulate"}, true}, {[]string{"up", "--simulate", "--alert"}, false}} {
		sink := newSink(t, false)
		path, _ := writeConfig(t, sink.URL+"/phone")
		said := saidBeforeTheAddress(t, append(c.args, "--config", path)...)
		if !strings.Contains(said, "the room, its pieces and its coats are simulated") || strings.Contains(said, "alerts go to the log alone") != c.mute {
			t.Errorf("%v says\n%s", c.args, said)
		}
	}
}

// saidBeforeTheAddress runs recoat in this process until it gives the address of
// its pages, stops it, and returns what it said.
func saidBeforeTheAddress(t *testing.T, args ...string) string {
	t.Helper()
	ctx, stop := context.WithTimeout(t.Context(), time.Minute)
	defer stop()
	out, in := io.Pipe()
	code := make(chan int, 1)
	go func() {
		code <- run(ctx, args, in, testWriter{t})
		_ = in.Close()
	}()
	var said []string
	for lines := bufio.NewScanner(out); lines.Scan(); {
		said = append(said, lines.Text())
		if address.MatchString(lines.Text()) {
			stop()
		}
	}
	if got := <-code; got != 0 {
		t.Errorf("exit %d", got)
	}
	return strings.Join(said, "\n")
}
