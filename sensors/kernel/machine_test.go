package kernel

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"recoat/sensors"
)

func write(t *testing.T, root, name, text string) {
	t.Helper()
	path := filepath.Join(root, name)
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

const (
	zone  = "sys/class/thermal/thermal_zone1/"
	volts = "sys/class/hwmon/hwmon2/"
)

// pi is a root with the files of a Pi. Its first thermal zone and its first
// hwmon device are something else.
func pi(t *testing.T) string {
	root := t.TempDir()
	for name, text := range map[string]string{
		"sys/class/thermal/thermal_zone0/type": "gpu-thermal\n", "sys/class/thermal/thermal_zone0/temp": "99000\n",
		zone + "type": "cpu-thermal\n", zone + "temp": "48312\n",
		"sys/class/hwmon/hwmon1/name": "cpu_thermal\n",
		volts + "name":                "rpi_volt\n", volts + "in0_lcrit_alarm": "0\n",
	} {
		write(t, root, name, text)
	}
	return root
}

func machine(t *testing.T, root string) Machine {
	t.Helper()
	m, ok := DiscoverMachine(root)
	if !ok {
		t.Fatal("the machine tells nothing")
	}
	return m
}

func machineReading(q sensors.Quantity, v float64) sensors.Reading {
	return sensors.Reading{Channel: sensors.Channel{Quantity: q}, Value: v}
}

func TestTheMachineTellsItsHeatAndItsSupply(t *testing.T) {
	root := pi(t)
	m := machine(t, root)
	for alarm, want := range map[string]float64{"0\n": 0, "1\n": 1} {
		write(t, root, volts+"in0_lcrit_alarm", alarm)
		got, err := m.Read(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff([]sensors.Reading{machineReading(sensors.BoardTemperature, 48.312), machineReading(sensors.Undervoltage, want)}, got); diff != "" {
			t.Error(diff)
		}
	}
}

func TestAFileOfTheMachinesThatFailsHidesNotTheOther(t *testing.T) {
	root := pi(t)
	m := machine(t, root)
	for _, bad := range []string{"", "2\n", "yes\n"} {
		write(t, root, volts+"in0_lcrit_alarm", bad)
		got, err := m.Read(t.Context())
		if err != nil || len(got) != 1 || got[0].Value != 48.312 {
			t.Errorf("%q: %v, %v", bad, got, err)
		}
	}
	write(t, root, zone+"temp", "hot\n")
	if got, err := m.Read(t.Context()); err == nil || got != nil {
		t.Errorf("%v, %v", got, err)
	}
}

// The bits are those of the Pi's documentation of vcgencmd get_throttled.
func TestThrottledBits(t *testing.T) {
	root := t.TempDir()
	for text, want := range map[string]Throttled{
		"0x0\n":     {},
		"1\n":       {Undervoltage: true},
		"2\n":       {Capped: true},
		"4\n":       {Slowed: true},
		"8\n":       {Hot: true},
		"10000\n":   {UndervoltageOnce: true},
		"20000\n":   {CappedOnce: true},
		"40000\n":   {SlowedOnce: true},
		"80000\n":   {HotOnce: true},
		"0x50005\n": {Undervoltage: true, Slowed: true, UndervoltageOnce: true, SlowedOnce: true},
	} {
		write(t, root, throttledFile, text)
		if got, err := ReadThrottled(root); err != nil || got != want {
			t.Errorf("%q: %+v, %v", text, got, err)
		}
	}
	got, err := machine(t, root).Read(t.Context())
	if err != nil || len(got) != 1 {
		t.Errorf("an older kernel: %v, %v", got, err)
	}
	write(t, root, throttledFile, "throttled=0x0\n")
	if _, err := ReadThrottled(root); err == nil || !strings.Contains(err.Error(), "hexadecimal") {
		t.Errorf("%v", err)
	}
}

func TestAMachineThatTellsNothingIsNoSource(t *testing.T) {
	if m, ok := DiscoverMachine(t.TempDir()); ok {
		t.Errorf("%+v", m)
	}
}
