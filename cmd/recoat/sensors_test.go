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

	"github.com/google/go-cmp/cmp"

	"recoat/sensors"
	"recoat/sensors/emulated"
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
	var got []answerJSON
	if err := json.Unmarshal(out.Bytes(), &got); err != nil || len(got) != 2 {
		t.Fatalf("%v\n%s", err, &out)
	}
	first, second := got[0], got[1]
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
