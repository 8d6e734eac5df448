package main

import (
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"recoat/internal/doctor"
	"recoat/sensors/chip"
	"recoat/sensors/wiring"
)

func TestTheConfigurationSaysWhatIsWired(t *testing.T) {
	cfg, err := loadConfig(write(t, "recoat.toml", `
[sensors]
root = "/"
i2c = "3"
mux = 0x71
bridge = 0x19
emissivity = 0.9
[[sensors.thermistors]]
adc = 0x48
input = 2
series = 4700
supply = 3.3
r25 = 10000
beta = 3950
[[sensors.thermistors]]
adc = 0x49
series = 10000
a = 1.4e-3
b = 2.4e-4
c = 9e-8
`))
	if err != nil {
		t.Fatal(err)
	}
	want := wiring.Real{Root: "/", I2C: "3", Mux: 0x71, Bridge: 0x19, Emissivity: 0.9, Thermistors: []wiring.Thermistor{
		{ADC: 0x48, Thermistor: chip.Thermistor{Input: 2, Series: 4700, Supply: 3.3, Curve: chip.Curve{R25: 10000, Beta: 3950}}},
		{ADC: 0x49, Thermistor: chip.Thermistor{Series: 10000, Curve: chip.Curve{A: 1.4e-3, B: 2.4e-4, C: 9e-8}}},
	}}
	if diff := cmp.Diff(want, cfg.Sensors.real()); diff != "" {
		t.Errorf("want -, got +\n%s", diff)
	}
}

// The thermistor that the shipped file shows, behind marks, is one that works.
func TestTheShippedThermistorIsSound(t *testing.T) {
	text, err := os.ReadFile("../../deploy/recoat.toml")
	if err != nil {
		t.Fatal(err)
	}
	_, after, found := strings.Cut(string(text), "# [[sensors.thermistors]]\n")
	example, _, ended := strings.Cut(after, "\n\n")
	if !found || !ended {
		t.Fatal("the shipped file shows none")
	}
	var b strings.Builder
	b.WriteString("[[sensors.thermistors]]\n")
	for line := range strings.Lines(example) {
		b.WriteString(strings.TrimPrefix(line, "# "))
	}
	cfg, err := loadConfig(write(t, "recoat.toml", b.String()))
	if err != nil {
		t.Fatal(err)
	}
	want := []thermistorConfig{{ADC: 0x48, Series: 10000, Supply: 3.3, R25: 10000, Beta: 3950}}
	if diff := cmp.Diff(want, cfg.Sensors.Thermistors); diff != "" {
		t.Errorf("want -, got +\n%s", diff)
	}
}

// The doctor tells what cannot be used beside what can.
func TestTheDoctorTellsWhatCannotBeUsed(t *testing.T) {
	path, _ := probes(t)
	cfg, err := loadConfig(path)
	if err != nil {
		t.Fatal(err)
	}
	found := lookForSensors(t.Context(), cfg)
	if len(found) != 3 || found[0].State != doctor.NotOK || !strings.Contains(found[0].Detail, "no-such-bus") || found[0].Do == "" {
		t.Fatalf("%+v", found)
	}
	for _, f := range found[1:] {
		if f.State != doctor.OK || !strings.Contains(f.Detail, "ds18b20") {
			t.Errorf("%+v", f)
		}
	}
}
