package wiring

import (
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/onewire"

	"recoat/sensors"
	"recoat/sensors/chip"
	"recoat/sensors/emulated"
)

func names(s Sensors) []string {
	var all []string
	for _, w := range s.List() {
		for _, c := range w.Channels {
			all = append(all, w.Name+" "+c.String())
		}
	}
	return all
}

func expect(t *testing.T, s Sensors, want ...string) {
	t.Helper()
	if got := names(s); !slices.Equal(got, want) {
		t.Errorf("found\n  %s\nwant\n  %s", strings.Join(got, "\n  "), strings.Join(want, "\n  "))
	}
}

// look surveys a bus as Find does, without a kernel's sensors.
func look(t *testing.T, bus i2c.Bus, cfg Real) Sensors {
	t.Helper()
	var s Sensors
	s.addBus(bus, cfg, &channels{})
	if len(s.Failures) > 0 {
		t.Fatal(s.Failures)
	}
	return s
}

// Every kind is known for what it is at each of its addresses, also those that
// others can have.
func TestEachKindIsKnownForWhatItIs(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		made := map[string]func(addr uint16) i2c.Bus{
			"bme280":   func(a uint16) i2c.Bus { return emulated.NewBME280(a, emulated.Typical()) },
			"hdc302x":  func(a uint16) i2c.Bus { return emulated.NewHDC302x(a) },
			"sht3x":    func(a uint16) i2c.Bus { return emulated.NewSHT3x(a, 1) },
			"sht4x":    func(a uint16) i2c.Bus { return emulated.NewSHT4x(a, 1) },
			"mcp9808":  func(a uint16) i2c.Bus { return emulated.NewMCP9808(a) },
			"mlx90614": func(a uint16) i2c.Bus { return emulated.NewMLX90614(a, 1, 1) },
			"scd4x":    func(uint16) i2c.Bus { return emulated.NewSCD4x() },
			"tmp102":   func(a uint16) i2c.Bus { return emulated.NewTMP102(a) },
			"aht20":    func(uint16) i2c.Bus { return emulated.NewAHT20() },
		}
		kinds := chip.Kinds(chip.Emissivity)
		if len(made) != len(kinds) {
			t.Errorf("%d kinds are tried here, there are %d", len(made), len(kinds))
		}
		for _, k := range kinds {
			for _, addr := range k.Addresses {
				bus := emulated.NewI2CBus("i2c-1")
				bus.Attach(addr, made[k.Name](addr))
				found := look(t, bus, Real{})
				if len(found.Guards()) != 1 || found.Guards()[0].Name() != chip.Name(k.Name, "i2c-1", addr) {
					t.Errorf("%s at %#02x is found as %v", k.Name, addr, names(found))
				}
			}
		}
	})
}

func TestChannelsOfTwoChipsAreToldApart(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus := emulated.NewI2CBus("I2C1")
		bus.Attach(0x76, emulated.NewBME280(0x76, emulated.Typical()))
		bus.Attach(0x44, emulated.NewSHT4x(0x44, 1))
		bus.Attach(0x19, emulated.NewMCP9808(0x19))
		found := look(t, bus, Real{})
		expect(t, found,
			"bme280 at I2C1 0x76 air-temperature", "bme280 at I2C1 0x76 relative-humidity", "bme280 at I2C1 0x76 pressure",
			"sht4x at I2C1 0x44 air-temperature:1-0044", "sht4x at I2C1 0x44 relative-humidity:1-0044",
			"mcp9808 at I2C1 0x19 surface-temperature:1-0019",
		)
		for _, a := range found.Read(t.Context(), time.Now()) {
			for _, r := range a.Readings {
				if r.Quality == sensors.Missing || !sensors.ValidProbe("x"+r.Channel.Probe) {
					t.Errorf("%s gives %v", a.Health.Source, r)
				}
			}
		}
	})
}

// Where the kernel drives the air sensor, a chip on the bus is a second one.
func TestTheKernelsChannelsComeFirst(t *testing.T) {
	bus := emulated.NewI2CBus("I2C1")
	bus.Attach(0x44, emulated.NewSHT4x(0x44, 1))
	var s Sensors
	s.addBus(bus, Real{}, &channels{taken: map[sensors.Channel]bool{{Quantity: sensors.AirHumidity}: true}})
	expect(t, s, "sht4x at I2C1 0x44 air-temperature:1-0044", "sht4x at I2C1 0x44 relative-humidity:1-0044")
}

func TestChipsBehindAMultiplexer(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		trunk := emulated.NewI2CBus("I2C1")
		trunk.Attach(0x76, emulated.NewBME280(0x76, emulated.Typical()))
		bus := emulated.NewPCA9548(trunk, 0x70)
		for port, at := range map[int]sensors.Celsius{2: 12, 5: 15} {
			sensor := emulated.NewMCP9808(0x18)
			sensor.Set(at)
			bus.Port(port).Attach(0x18, sensor)
		}
		if err := bus.Tx(0x70, []byte{1 << 5}, nil); err != nil { // as a run before this one left it
			t.Fatal(err)
		}
		found := look(t, bus, Real{Mux: 0x70})
		expect(t, found,
			"bme280 at I2C1 0x76 air-temperature", "bme280 at I2C1 0x76 relative-humidity", "bme280 at I2C1 0x76 pressure",
			"mcp9808 at I2C1-0x70-2 0x18 surface-temperature:1-0018-2",
			"mcp9808 at I2C1-0x70-5 0x18 surface-temperature:1-0018-5",
		)
		for range 3 {
			got := found.Read(t.Context(), time.Now())
			if a, b := got[1].Readings[0], got[2].Readings[0]; a.Value != 12 || b.Value != 15 {
				t.Errorf("the ports give %v and %v, want 12 and 15", a, b)
			}
		}
	})
}

func TestWhatTheConfigurationNames(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus, adc := emulated.NewI2CBus("I2C1"), emulated.NewADS1115(0x48)
		bus.Attach(0x48, adc)
		divider := emulated.Divider{R25: 10000, Beta: 3950, Series: 10000, Supply: 3.3}
		probe := chip.Thermistor{Input: 2, Series: 10000, Supply: 3.3, Curve: chip.Curve{R25: 10000, Beta: 3950}}
		adc.Set(2, divider.Volts(17))
		master := emulated.NewMaster()
		master.Set(emulated.Address(0xABC), 16)
		v := newSurvey(bus, Real{Thermistors: []Thermistor{{ADC: 0x48, Thermistor: probe}}}, &channels{})
		v.wire = chip.NewOneWire(func() (onewire.Bus, error) { return master, nil })
		var found Sensors
		found.addSurvey(v)
		if len(found.Failures) > 0 {
			t.Fatal(found.Failures)
		}
		expect(t, found,
			"thermistor 2 of ads1115 at I2C1 0x48 surface-temperature:1-0048-in2",
			"ds18b20 28-000000000abc surface-temperature:28-000000000abc",
		)
		got := found.Read(t.Context(), time.Now())
		if a := got[0].Readings[0]; a.Quality != sensors.Good || a.Value < 16.98 || a.Value > 17.02 {
			t.Errorf("the thermistor gives %v, %+v", a, got[0].Health)
		}
		if b := got[1].Readings[0]; b.Quality != sensors.Good || b.Value != 16 {
			t.Errorf("the probe gives %v, %+v", b, got[1].Health)
		}
	})
}

// stranger is a chip that nobody knows: it acknowledges everything, reads as some
// byte, and notes what is written to it.
type stranger struct {
	i2c.Bus
	fill byte

	mu      sync.Mutex
	written map[uint16][][]byte
}

func (s *stranger) String() string { return "I2C1" }

func (s *stranger) Tx(addr uint16, w, r []byte) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	for i := range r {
		r[i] = s.fill
	}
	if len(w) > 0 {
		s.written[addr] = append(s.written[addr], slices.Clone(w))
	}
	return nil
}

// A chip that is none of ours is not taken for one, and is told nothing but what
// only asks: a register's number, or a command that every kind at the address
// answers with an identity.
func TestStrangersAreLeftAlone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		questions := []string{"\x37\x81", "\xf3\x2d", "\xe4\xb8"}
		for _, fill := range []byte{0x00, 0xFF, 0x5A, 0x18} {
			s := &stranger{fill: fill, written: map[uint16][][]byte{}}
			if found := look(t, s, Real{Mux: 0, Bridge: 0}); len(found.Guards()) != 0 {
				t.Errorf("what reads as %#02x everywhere is taken for %v", fill, names(found))
			}
			for addr, list := range s.written {
				for _, w := range list {
					asks := len(w) == 1 || slices.Contains(questions, string(w))
					if !asks && (addr != 0x38 || fill != 0x18 && fill != 0x5A) {
						t.Errorf("%#02x, reading as %#02x, is told % x", addr, fill, w)
					}
				}
			}
			if len(s.written[0x38]) > 0 && (fill == 0 || fill == 0xFF) {
				t.Errorf("a port expander at 0x38 is made to put out % x", s.written[0x38])
			}
		}
	})
}

func TestAnEmptyBusHasNothing(t *testing.T) {
	if found := look(t, emulated.NewI2CBus("I2C1"), Real{}); len(found.Guards()) != 0 {
		t.Errorf("found %v", names(found))
	}
}

func TestListOfTheKernelsSensors(t *testing.T) {
	wire := &emulated.OneWire{Root: t.TempDir()}
	if err := wire.Set("28-0316a2791b5f", 14.5); err != nil {
		t.Fatal(err)
	}
	list, failures, err := List(Real{Root: wire.Root, I2C: "no-such-bus"})
	if err != nil || len(failures) != 1 || len(list) != 1 || list[0].Name != "ds18b20 28-0316a2791b5f" || list[0].Channels[0].String() != "surface-temperature:28-0316a2791b5f" {
		t.Errorf("%v, %v, %v", list, failures, err)
	}
}
