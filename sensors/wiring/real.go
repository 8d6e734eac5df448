package wiring

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/onewire"
	"periph.io/x/devices/v3/ds248x"

	"recoat/sensors"
	"recoat/sensors/chip"
	"recoat/sensors/kernel"
	"recoat/sensors/poll"
)

// Real says where this machine's sensors are. Chips that can be told from every
// other are found without being named; the rest has to be said.
type Real struct {
	Root string // the root of the file system
	I2C  string // number of the I²C bus; empty: the first there is

	Mux         uint16       // address of a PCA9548 on the bus, 0x70 to 0x77; 0: none
	Bridge      uint16       // address of a DS2482 or DS2483 on the bus, 0x18 or 0x19, with DS18B20 probes; 0: none
	Emissivity  float64      // of what an MLX90614 looks at; 0: that of paint and wood
	Thermistors []Thermistor // on ADS1115 converters
}

// Thermistor is one on the converter at ADC, 0x48 to 0x4B.
type Thermistor struct {
	ADC uint16
	chip.Thermistor
}

// ErrNone says that the machine has no sensor, nor a bus that one could be on,
// and that none was named. The error that wraps it says where it was looked.
var ErrNone = errors.New("this machine has no sensor")

// Find looks for sensors that the kernel drives and for chips on the bus. Where
// two give the same channel, the kernel's has it, or the one found first, and
// the other's channels are named by where it is wired.
//
// What cannot be used is in Failures as long as anything works. Where nothing
// does, it is the error: ErrNone is for a machine that has nothing at all.
func Find(cfg Real) (Sensors, error) { return find(cfg, chip.OpenBus) }

func find(cfg Real, open func(name string) (i2c.BusCloser, error)) (Sensors, error) {
	s, taken := findKernel(cfg.Root)
	bus, noBus := open(cfg.I2C)
	switch {
	case noBus == nil:
		s.Close = bus.Close
		s.addBus(bus, cfg, taken)
	case !errors.Is(noBus, chip.ErrNoBus) || cfg.namesBus():
		s.fail(noBus)
	}
	if len(s.Guards) > 0 {
		return s, nil
	}
	if noBus == nil {
		s.fail(fmt.Errorf("no chip that is known answers on %s", bus))
	}
	if len(s.Failures) == 0 {
		return Sensors{}, fmt.Errorf("%w: nothing below %s in sys/bus/w1, sys/bus/iio or sys/class/hwmon; %w", ErrNone, cfg.Root, noBus)
	}
	s.fail(s.Close())
	return Sensors{}, fmt.Errorf("no sensor can be used: %w; check their wires and supply, [sensors] in the configuration, and that this user may open the bus (group i2c)", listed(s.Failures))
}

// namesBus reports whether the configuration says that there is an I²C bus.
func (cfg Real) namesBus() bool {
	return cfg.I2C != "" || cfg.Mux != 0 || cfg.Bridge != 0 || len(cfg.Thermistors) > 0
}

// fail notes an error, if it is one, as a failure that hides nothing else.
func (s *Sensors) fail(err error) {
	if err != nil {
		s.Failures = append(s.Failures, err)
	}
}

// listed is errors as one, in one line.
func listed(errs []error) error {
	all := errs[0]
	for _, err := range errs[1:] {
		all = fmt.Errorf("%w; %w", all, err)
	}
	return all
}

// channels is the set of those that have a source.
type channels map[sensors.Channel]bool

func (c channels) take(list []sensors.Channel) {
	for _, channel := range list {
		c[channel] = true
	}
}

func findKernel(root string) (Sensors, channels) {
	s := Sensors{Close: func() error { return nil }}
	taken := channels{}
	sources, err := kernel.Discover(root)
	s.fail(err)
	probes := 0
	for _, source := range sources {
		taken.take(source.Channels())
		s.Guards = append(s.Guards, poll.NewGuard(poll.Over(source)))
		if _, is := source.(kernel.W1); is {
			probes++
		}
	}
	if err == nil && probes == 0 && hasOneWire(root) {
		s.fail(errors.New("the kernel drives a 1-wire bus, but no DS18B20 answers on it"))
	}
	return s, taken
}

// hasOneWire reports whether the kernel drives a 1-wire bus, with probes or
// without (Linux, Documentation/w1/w1-generic.rst: w1_bus_master<id>).
func hasOneWire(root string) bool {
	entries, err := os.ReadDir(filepath.Join(root, "sys/bus/w1/devices"))
	return err == nil && slices.ContainsFunc(entries, func(e os.DirEntry) bool {
		return strings.HasPrefix(e.Name(), "w1_bus_master")
	})
}

// addBus guards what is on the bus: the chips that are found, those behind the
// multiplexer, and what has to be said. What fails of it hides no other.
func (s *Sensors) addBus(bus i2c.Bus, cfg Real, taken channels) {
	mux, err := openMux(bus, cfg.Mux)
	s.fail(err)
	look := survey{emissivity: cfg.Emissivity, skip: map[uint16]bool{}, taken: taken}
	for _, addr := range []uint16{cfg.Mux, cfg.Bridge} {
		look.skip[addr] = true
	}
	for _, t := range cfg.Thermistors {
		look.skip[t.ADC] = true
	}
	s.Guards = append(s.Guards, look.on(bus, "")...)
	if mux != nil {
		for n := range chip.MuxPorts {
			s.Guards = append(s.Guards, look.behind(mux.Port(n), n)...)
		}
	}
	s.addThermistors(bus, cfg.Thermistors)
	if cfg.Bridge != 0 {
		s.addProbes(chip.NewOneWire(func() (onewire.Bus, error) {
			return ds248x.New(bus, cfg.Bridge, &ds248x.DefaultOpts)
		}))
	}
}

func openMux(bus i2c.Bus, addr uint16) (*chip.Mux, error) {
	if addr == 0 {
		return nil, nil
	}
	return chip.OpenMux(bus, addr)
}

// addThermistors guards what the configuration names, whether or not it answers
// now.
func (s *Sensors) addThermistors(bus i2c.Bus, list []Thermistor) {
	converters := map[uint16]*chip.ADC{}
	for _, t := range list {
		adc := converters[t.ADC]
		if adc == nil {
			adc = chip.NewADC(bus, t.ADC, bus.String())
			converters[t.ADC] = adc
		}
		probe := fmt.Sprintf("%s-in%d", wired(bus, t.ADC), t.Input)
		s.Guards = append(s.Guards, guard(probe, poll.GuardConfig{
			Name:     chip.ThermistorName(adc, t.Thermistor),
			Channels: []sensors.Channel{{Quantity: sensors.SurfaceTemperature}},
			Open:     func() (sensors.Source, error) { return chip.OpenThermistor(adc, t.Thermistor) },
		}))
	}
}

// addProbes guards the DS18B20 probes behind a bus master.
func (s *Sensors) addProbes(wire *chip.OneWire) {
	probes, err := wire.Search(context.Background())
	switch {
	case err != nil:
		s.fail(fmt.Errorf("the 1-wire bridge: %w", err))
	case len(probes) == 0:
		s.fail(errors.New("the 1-wire bridge answers, but no DS18B20 behind it does"))
	}
	for _, p := range probes {
		s.Guards = append(s.Guards, guard(chip.ROM(p), poll.GuardConfig{
			Name:     "ds18b20 " + chip.ROM(p),
			Channels: []sensors.Channel{{Quantity: sensors.SurfaceTemperature}},
			Open:     func() (sensors.Source, error) { return chip.OpenDS18B20(wire, p) },
		}))
	}
}
