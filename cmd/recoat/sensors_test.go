package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/internal/store/sqlite"
	"recoat/sensors"
	"recoat/sensors/emulated"
	"recoat/sensors/wiring"
)

// probes returns a configuration for a machine that has two surface probes, and
// not the I²C bus that it names, and the wire they are on.
func probes(t *testing.T) (config string, wire *emulated.OneWire) {
	t.Helper()
	wire = &emulated.OneWire{Root: t.TempDir()}
	for rom, at := range map[string]float64{"28-000000000001": 14.5, "28-000000000002": 16.25} {
		if err := wire.Set(rom, sensors.Celsius(at)); err != nil {
			t.Fatal(err)
		}
	}
	config = filepath.Join(t.TempDir(), "recoat.toml")
	text := fmt.Sprintf("[sensors]\nroot = %q\ni2c = \"no-such-bus\"\n[data]\nfolder = %q\n", wire.Root, t.TempDir())
	if err := os.WriteFile(config, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return config, wire
}

func TestSensorsList(t *testing.T) {
	config, _ := probes(t)
	var out, errs bytes.Buffer
	if err := (&sensorsListCommand{Config: config, JSON: true}).Run(&session{ctx: t.Context(), stdout: &out, stderr: &errs}); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(errs.String(), "no-such-bus") {
		t.Errorf("of the bus that was named and is not there it says %q", &errs)
	}
	var got []wiredJSON
	if err := json.Unmarshal(out.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	want := []wiredJSON{
		{"ds18b20 28-000000000001", []string{"surface-temperature:28-000000000001"}},
		{"ds18b20 28-000000000002", []string{"surface-temperature:28-000000000002"}},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("want -, got +\n%s", diff)
	}
}

// One sensor that fails hides no other, and the command fails with it.
func TestSensorsRead(t *testing.T) {
	config, wire := probes(t)
	if err := wire.SetFault("28-000000000001", emulated.PowerOn); err != nil {
		t.Fatal(err)
	}
	var out, errs bytes.Buffer
	err := (&sensorsReadCommand{Config: config, JSON: true}).Run(&session{ctx: t.Context(), stdout: &out, stderr: &errs})
	if !errors.Is(err, errUnwell) {
		t.Errorf("%v; want %v", err, errUnwell)
	}
	var got readJSON
	if err := json.Unmarshal(out.Bytes(), &got); err != nil || len(got.Sensors) != 2 {
		t.Fatalf("%v\n%s", err, &out)
	}
	first, second := got.Sensors[0], got.Sensors[1]
	if first.Readings[0].LastGood != nil || second.Readings[0].LastGood == nil {
		t.Errorf("last good: %v, %v", first.Readings[0].LastGood, second.Readings[0].LastGood)
	}
	if first.OK || !strings.Contains(first.Error, "85 °C") || first.Readings[0].Value != nil || first.Readings[0].Quality != "missing" {
		t.Errorf("the probe that restarted: %+v", first)
	}
	if !second.OK || *second.Readings[0].Value != 16.25 || second.Readings[0].Unit != "Cel" || second.Readings[0].Quality != "good" {
		t.Errorf("the sound probe: %+v", second)
	}
}

func TestSensorsReadForPeople(t *testing.T) {
	config, _ := probes(t)
	var out, errs bytes.Buffer
	err := (&sensorsReadCommand{Config: config}).Run(&session{ctx: t.Context(), stdout: &out, stderr: &errs})
	if !errors.Is(err, errUnwell) || !strings.Contains(errs.String(), "no-such-bus") {
		t.Errorf("%v, and of the bus that was named and is not there: %q", err, &errs)
	}
	for _, text := range []string{"ds18b20 28-000000000001", "14.50 Cel", "16.25 Cel", "good"} {
		if !strings.Contains(out.String(), text) {
			t.Errorf("%q is not in\n%s", text, &out)
		}
	}
}

// When a sensor that fails was last good is in the store; how far two are apart
// is told beside what was learnt of them.
func TestSensorsReadTellsTheLastGoodTimeAndTwins(t *testing.T) {
	now := time.Now().UTC().Truncate(time.Second)
	cfg := defaults()
	cfg.Data.Folder = t.TempDir()
	probe := sensors.Channel{Quantity: sensors.SurfaceTemperature, Probe: "28-000000000001"}
	round := func(seq uint64, ago time.Duration, q sensors.Quality) sensors.Round {
		return sensors.Round{Node: cfg.Room.Node, Boot: "b", Seq: seq, Time: now.Add(-ago), ClockSet: true, Readings: []sensors.Reading{{Channel: probe, Value: 14, Quality: q}}}
	}
	s, err := sqlite.Open(t.Context(), folder(cfg.Data.Folder).readings())
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Append(t.Context(), cfg.Room.ID, []sensors.Round{round(1, 2*time.Hour, sensors.Good), round(2, time.Hour, sensors.Good), round(3, time.Minute, sensors.Suspect)}); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	last, err := lastGood(t.Context(), cfg, now)
	if err != nil || !last[probe].Equal(now.Add(-time.Hour)) {
		t.Errorf("%v, %v", last, err)
	}
	answers := []wiring.Answer{{Readings: pair(0, 3)}}
	known := offsets{"relative-humidity relative-humidity:1-0045": 2}
	for i, want := range []string{"+0.30 Cel apart now, not learnt yet (it takes a day)", "+3.00 %RH apart now, +2.00 %RH at first"} {
		if got := twinsNow(twinned(), answers, known)[i].words(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
