package wiring

import (
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"recoat/drying/air"
	"recoat/sensors"
	"recoat/sensors/emulated"
	"recoat/sensors/poll"
)

// noBus names an I²C bus that no machine has, so that none is touched.
const noBus = "bus of a test"

// machine is a root with the kernel's files, as Linux shows them.
func machine(t *testing.T, files map[string]string) string {
	t.Helper()
	root := t.TempDir()
	for name, text := range files {
		path := filepath.Join(root, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return root
}

// values reads every sensor once, by channel. It is an error for one to come
// twice.
func values(t *testing.T, s Sensors) map[string]float64 {
	t.Helper()
	all := map[string]float64{}
	for _, a := range s.Read(t.Context(), time.Now()) {
		if !a.Health.OK {
			t.Errorf("%s: %s", a.Health.Source, a.Health.Err)
		}
		for _, x := range a.Readings {
			if _, twice := all[x.Channel.String()]; twice {
				t.Errorf("%s comes twice", x.Channel)
			}
			all[x.Channel.String()] = x.Value
		}
	}
	return all
}

// The files of an IIO barometer, of an hwmon humidity sensor and of a 1-wire
// probe: Linux, Documentation/ABI/testing/sysfs-bus-iio, Documentation/hwmon/
// sysfs-interface.rst, Documentation/w1/slaves/w1_therm.rst. The probe's bytes
// are made by the emulated bus.
func TestFindReadsWhatTheKernelShows(t *testing.T) {
	root := machine(t, map[string]string{
		"sys/bus/iio/devices/iio:device0/name":              "bmp280\n",
		"sys/bus/iio/devices/iio:device0/in_temp_input":     "21300\n",
		"sys/bus/iio/devices/iio:device0/in_pressure_input": "100.900000000\n",
		"sys/class/hwmon/hwmon1/name":                       "sht3x\n",
		"sys/class/hwmon/hwmon1/temp1_input":                "19750\n",
		"sys/class/hwmon/hwmon1/humidity1_input":            "52400\n",
	})
	wire := &emulated.OneWire{Root: root}
	if err := wire.Set("28-0000000d0099", 18.25); err != nil {
		t.Fatal(err)
	}
	s, err := Find(Real{Root: root, I2C: noBus})
	if err != nil {
		t.Fatal(err)
	}
	got := values(t, s)
	for channel, want := range map[string]float64{
		"surface-temperature:28-0000000d0099": 18.25, "pressure": 100900, "air-temperature": 19.75, "relative-humidity": 52.4,
	} {
		if v, ok := got[channel]; !ok || math.Abs(v-want) > 1e-9*want {
			t.Errorf("%s is %v, want %v", channel, v, want)
		}
	}
	if len(got) != 4 {
		t.Errorf("%v: the barometer's own warmth is not the air's", got)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}

func TestTheKernelsBarometerAndAChipGiveNoChannelTwice(t *testing.T) {
	root := machine(t, map[string]string{
		"sys/bus/iio/devices/iio:device0/name":              "bmp280\n",
		"sys/bus/iio/devices/iio:device0/in_pressure_input": "100.900000000\n",
	})
	var s Sensors
	taken := &channels{}
	s.addKernel(root, taken)
	bus := emulated.NewI2CBus("I2C1")
	bus.Attach(0x76, emulated.NewBME280(0x76, emulated.Typical()))
	bus.Attach(0x44, emulated.NewSHT3x(0x44, 7))
	s.addBus(bus, Real{}, taken)
	got := values(t, s)
	if len(got) != 6 || got["pressure"] != 100900 {
		t.Errorf("%v", got)
	}
	// The sampling loop refuses channels that come twice.
	_, err := poll.NewLoop(poll.LoopConfig{
		Node: "bench", Boot: "b1", First: 1, Period: time.Second, Clock: poll.SystemClock{}, Buses: s.Buses,
		Emit: func(context.Context, sensors.Round) {},
	})
	if err != nil {
		t.Error(err)
	}
}

// probed is a simulated room with a door and a top in it.
func probed(seed uint64) Simulated {
	return Simulated{
		Room: "back-room", Seed: seed, Start: time.Date(2026, 3, 1, 6, 0, 0, 0, time.UTC),
		Probes: []Probed{
			{ROM: "28-0000000d0051", Name: "door", Thickness: 0.022, Area: 1.1},
			{ROM: "28-0000000d0052", Name: "top", Thickness: 0.030, Area: 0.7},
		},
	}
}

func simulated(t *testing.T, cfg Simulated) *Simulation {
	t.Helper()
	s, err := Simulate(cfg)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	return s
}

// A chip that warms itself shows less humidity, but the same dew point: the
// vapour about it is the room's.
func TestSimulatedReadingsAreCloseToTheTruth(t *testing.T) {
	s := simulated(t, probed(3))
	for range 12 {
		for range 30 {
			if err := s.Advance(time.Minute); err != nil {
				t.Fatal(err)
			}
		}
		got := values(t, s.Sensors)
		truth, humidity := s.Truth()
		if off := got["air-temperature"] - float64(truth); math.Abs(off) > 1 {
			t.Errorf("%s: the air is %.2f K off", s.Now(), off)
		}
		if off := got["relative-humidity"] - float64(humidity); math.Abs(off) > 5 {
			t.Errorf("%s: the humidity is %.2f %% off", s.Now(), off)
		}
		dew := air.DewPoint(sensors.Celsius(got["air-temperature"]), sensors.RelativeHumidity(got["relative-humidity"]))
		if off := dew.Sub(air.DewPoint(truth, humidity)); math.Abs(float64(off)) > 0.6 {
			t.Errorf("%s: the dew point is %.2f K off", s.Now(), off)
		}
		for _, rom := range []string{"28-0000000d0051", "28-0000000d0052"} {
			if off := got["surface-temperature:"+rom] - float64(truth); math.Abs(off) > 4 {
				t.Errorf("%s: the surface of %s is %.2f K from the air", s.Now(), rom, off)
			}
		}
	}
}

func TestASimulationIsTheSameForASeedAndLeavesNothingBehind(t *testing.T) {
	read := func(seed uint64) map[string]float64 {
		s := simulated(t, probed(seed))
		if err := s.Apply("door", 0.06); err != nil {
			t.Fatal(err)
		}
		for range 10 {
			if err := s.Advance(time.Minute); err != nil {
				t.Fatal(err)
			}
		}
		got := values(t, s.Sensors)
		if err := s.Close(); err != nil {
			t.Error(err)
		}
		if _, err := os.Stat(s.OneWire.Root); !os.IsNotExist(err) {
			t.Errorf("the folder of the emulated bus is left: %v", err)
		}
		return got
	}
	a, b, c := read(3), read(3), read(4)
	differ := false
	for channel, v := range a {
		if b[channel] != v {
			t.Errorf("the same seed: %s is %v and %v", channel, v, b[channel])
		}
		differ = differ || c[channel] != v
	}
	if !differ || len(a) != 5 {
		t.Errorf("%v, and with another seed %v", a, c)
	}
}

func TestARoomThatCannotBeSimulatedIsRefused(t *testing.T) {
	unknown, twice := probed(1), probed(1)
	unknown.Room = "ballroom"
	twice.Probes[1].Name = "door"
	for name, cfg := range map[string]Simulated{"unknown room": unknown, "two pieces of one name": twice} {
		if s, err := Simulate(cfg); err == nil {
			t.Errorf("%s: simulated", name)
			_ = s.Close()
		}
	}
	if err := simulated(t, probed(1)).Apply("stool", 0.1); err == nil {
		t.Error("a coat lies on a piece that is not there")
	}
}

// What a machine tells of itself comes beside its sensors, and is none.
func TestTheMachineIsReadBesideItsSensors(t *testing.T) {
	root := machine(t, map[string]string{
		"sys/class/thermal/thermal_zone0/type": "cpu-thermal\n", "sys/class/thermal/thermal_zone0/temp": "51000\n",
	})
	if s, err := find(Real{Root: root}, busless); !errors.Is(err, ErrNone) {
		t.Errorf("a machine that is warm has sensors: %v, %v", names(s), err)
	}
	wire := &emulated.OneWire{Root: root}
	if err := wire.Set("28-0000000d0099", 18.25); err != nil {
		t.Fatal(err)
	}
	s, err := find(Real{Root: root}, busless)
	if err != nil {
		t.Fatal(err)
	}
	if got := values(t, s); len(got) != 2 || got["board-temperature"] != 51 {
		t.Errorf("%v", got)
	}
}
