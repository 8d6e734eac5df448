package wiring

import (
	"errors"
	"fmt"
	"io/fs"
	"math"
	"strings"
	"testing"

	"periph.io/x/conn/v3/i2c"

	"recoat/sensors/chip"
	"recoat/sensors/emulated"
)

// opened is an emulated bus that a machine opens.
type opened struct {
	*emulated.I2CBus
	closed bool
}

func (o *opened) Close() error {
	o.closed = true
	return nil
}

// busless is a machine without a bus.
func busless(name string) (i2c.BusCloser, error) {
	return nil, fmt.Errorf("open I²C bus %q: %w", name, chip.ErrNoBus)
}

// barred is a machine whose bus is another group's.
func barred(string) (i2c.BusCloser, error) {
	return nil, fmt.Errorf("open /dev/i2c-1: %w", fs.ErrPermission)
}

// Only a machine that has nothing, and is not said to have anything, has none.
func TestNothingThereIsToldFromNothingThatWorks(t *testing.T) {
	processor := map[string]string{"sys/class/hwmon/hwmon0/temp1_input": "48000\n"}
	wire := map[string]string{"sys/bus/w1/devices/w1_bus_master1/w1_master_slave_count": "0\n"}
	deaf := func(string) (i2c.BusCloser, error) { return &opened{I2CBus: emulated.NewI2CBus("I2C1")}, nil }
	for name, c := range map[string]struct {
		files map[string]string
		cfg   Real
		open  func(string) (i2c.BusCloser, error)
		none  bool
		says  []string
	}{
		"nothing at all":                   {processor, Real{}, busless, true, []string{"sys/bus/w1", "no I²C bus"}},
		"a bus that may not be opened":     {processor, Real{}, barred, false, []string{"permission denied", "group i2c"}},
		"a bus on which nothing answers":   {processor, Real{}, deaf, false, []string{"no chip that is known answers on I2C1"}},
		"a bus that was named and is not":  {processor, Real{I2C: "1"}, busless, false, []string{"no I²C bus", `"1"`}},
		"a bridge without a bus":           {processor, Real{Bridge: 0x18}, busless, false, []string{"no I²C bus"}},
		"a multiplexer that is not there":  {processor, Real{Mux: 0x70}, deaf, false, []string{"0x70"}},
		"a 1-wire bus without its probes":  {wire, Real{}, busless, false, []string{"1-wire", "DS18B20"}},
		"two buses, and neither is of use": {wire, Real{}, barred, false, []string{"1-wire", "permission denied"}},
	} {
		t.Run(name, func(t *testing.T) {
			c.cfg.Root = machine(t, c.files)
			_, err := find(c.cfg, c.open)
			if err == nil || errors.Is(err, ErrNone) != c.none {
				t.Fatalf("%v; is it ErrNone: want %t", err, c.none)
			}
			for _, want := range c.says {
				if !strings.Contains(err.Error(), want) {
					t.Errorf("no %q in: %v", want, err)
				}
			}
		})
	}
}

func TestABusThatIsOfNoUseIsLetGo(t *testing.T) {
	bus := &opened{I2CBus: emulated.NewI2CBus("I2C1")}
	if _, err := find(Real{Root: t.TempDir()}, func(string) (i2c.BusCloser, error) { return bus, nil }); err == nil || !bus.closed {
		t.Errorf("%v, closed: %t", err, bus.closed)
	}
}

// What fails is told, and hides nothing that works.
func TestOneFailureHidesNoOtherSource(t *testing.T) {
	root := machine(t, map[string]string{
		"sys/class/hwmon/hwmon1/name":            "sht3x\n",
		"sys/class/hwmon/hwmon1/temp1_input":     "19750\n",
		"sys/class/hwmon/hwmon1/humidity1_input": "52400\n",
	})
	s, err := find(Real{Root: root}, barred)
	if err != nil || len(s.Guards()) != 1 || len(s.Failures) != 1 || !errors.Is(s.Failures[0], fs.ErrPermission) {
		t.Errorf("a bus that is barred: %v, %v, %v", names(s), s.Failures, err)
	}
	if got := values(t, s); got["air-temperature"] != 19.75 {
		t.Errorf("the kernel's sensor says %v", got)
	}

	bus := &opened{I2CBus: emulated.NewI2CBus("I2C1")}
	bus.Attach(0x48, emulated.NewTMP102(0x48))
	s, err = find(Real{Root: root, Mux: 0x70, Bridge: 0x18}, func(string) (i2c.BusCloser, error) { return bus, nil })
	if err != nil || len(s.Guards()) != 2 || len(s.Failures) != 2 {
		t.Fatalf("a multiplexer and a bridge that are not there: %v, %v, %v", names(s), s.Failures, err)
	}
	for i, want := range []string{"0x70", "1-wire bridge"} {
		if !strings.Contains(s.Failures[i].Error(), want) {
			t.Errorf("no %q in: %v", want, s.Failures[i])
		}
	}
	if err := s.Close(); err != nil || !bus.closed {
		t.Errorf("%v, closed: %t", err, bus.closed)
	}
}

// A machine without a bus, which nobody said it had, has nothing to complain of.
func TestKernelSensorsWithoutABusAreNoFailure(t *testing.T) {
	wire := &emulated.OneWire{Root: t.TempDir()}
	if err := wire.Set("28-0000000d0099", 18.25); err != nil {
		t.Fatal(err)
	}
	s, err := find(Real{Root: wire.Root}, busless)
	if err != nil || len(s.Guards()) != 1 || len(s.Failures) != 0 {
		t.Errorf("%v, %v, %v", names(s), s.Failures, err)
	}
}

func TestWhatIsNamedIsChecked(t *testing.T) {
	good := chip.Thermistor{Input: 1, Series: 10000, Supply: 3.3, Curve: chip.Curve{R25: 10000, Beta: 3950}}
	sound := Real{Mux: 0x70, Bridge: 0x18, Emissivity: 0.9, Thermistors: []Thermistor{{0x48, good}, {0x49, good}}}
	if err := sound.Check(); err != nil {
		t.Error(err)
	}
	if err := (Real{}).Check(); err != nil {
		t.Errorf("nothing named: %v", err)
	}
	for want, cfg := range map[string]Real{
		"0x70 to 0x77":        {Mux: 0x44},
		"0x18 or 0x19":        {Bridge: 0x1a},
		"emissivity 1.2":      {Emissivity: 1.2},
		"emissivity NaN":      {Emissivity: math.NaN()},
		"0x48 to 0x4b":        {Thermistors: []Thermistor{{0x40, good}}},
		"on input 1":          {Thermistors: []Thermistor{{0x48, good}, {0x48, good}}},
		"number 1: a supply":  {Thermistors: []Thermistor{{0x48, chip.Thermistor{Series: 1e4, Supply: 12, Curve: good.Curve}}}},
		"number 2: a thermis": {Thermistors: []Thermistor{{0x48, good}, {0x48, chip.Thermistor{Series: 1e4}}}},
	} {
		if err := cfg.Check(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v; want %q in it", err, want)
		}
	}
}
