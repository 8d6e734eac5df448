package wiring

import (
	"context"
	"errors"
	"fmt"

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

	Mux         uint16       // address of a PCA9548 on the bus; 0: none
	Bridge      uint16       // address of a DS2482 or DS2483 on the bus, with DS18B20 probes; 0: none
	Emissivity  float64      // of what an MLX90614 looks at; 0: that of paint and wood
	Thermistors []Thermistor // on ADS1115 converters
}

// Thermistor is one on the converter at ADC, 0x48 to 0x4B.
type Thermistor struct {
	ADC uint16
	chip.Thermistor
}

// ErrNone says that the machine has no sensor. The error that wraps it says
// where it was looked.
var ErrNone = errors.New("this machine has no sensor")

// Find looks for sensors that the kernel drives and for chips on the bus. Where
// two give the same channel, the kernel's has it, or the one found first, and
// the other's channels are named by where it is wired.
func Find(cfg Real) (Sensors, error) {
	s, taken, err := findKernel(cfg.Root)
	if err != nil {
		return Sensors{}, err
	}
	bus, noBus := chip.OpenBus(cfg.I2C)
	if noBus == nil {
		if err := s.addBus(bus, cfg, taken); err != nil {
			return Sensors{}, errors.Join(err, bus.Close())
		}
		s.Close = bus.Close
	}
	if len(s.Guards) > 0 {
		return s, nil
	}
	if noBus == nil {
		noBus = errors.Join(fmt.Errorf("no chip that is known answers on %s", bus), bus.Close())
	}
	return Sensors{}, fmt.Errorf("%w: nothing below %s in sys/bus/w1, sys/bus/iio or sys/class/hwmon, and %w", ErrNone, cfg.Root, noBus)
}

// channels is the set of those that have a source.
type channels map[sensors.Channel]bool

func (c channels) take(list []sensors.Channel) {
	for _, channel := range list {
		c[channel] = true
	}
}

func findKernel(root string) (Sensors, channels, error) {
	sources, err := kernel.Discover(root)
	if err != nil {
		return Sensors{}, nil, err
	}
	s := Sensors{Close: func() error { return nil }}
	taken := channels{}
	for _, source := range sources {
		taken.take(source.Channels())
		s.Guards = append(s.Guards, poll.NewGuard(poll.Over(source)))
	}
	return s, taken, nil
}

// addBus guards what is on the bus: the chips that are found, those behind the
// multiplexer, and what has to be said.
func (s *Sensors) addBus(bus i2c.Bus, cfg Real, taken channels) error {
	mux, err := openMux(bus, cfg.Mux)
	if err != nil {
		return err
	}
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
	if cfg.Bridge == 0 {
		return nil
	}
	return s.addProbes(chip.NewOneWire(func() (onewire.Bus, error) {
		return ds248x.New(bus, cfg.Bridge, &ds248x.DefaultOpts)
	}))
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
func (s *Sensors) addProbes(wire *chip.OneWire) error {
	probes, err := wire.Search(context.Background())
	if err != nil {
		return err
	}
	for _, p := range probes {
		s.Guards = append(s.Guards, guard(chip.ROM(p), poll.GuardConfig{
			Name:     "ds18b20 " + chip.ROM(p),
			Channels: []sensors.Channel{{Quantity: sensors.SurfaceTemperature}},
			Open:     func() (sensors.Source, error) { return chip.OpenDS18B20(wire, p) },
		}))
	}
	return nil
}
