package wiring

import (
	"errors"
	"fmt"

	"periph.io/x/conn/v3/i2c"

	"recoat/sensors/chip"
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

	// Wait takes a bus on which nothing answers yet for one to be looked over
	// again, and not for an error.
	Wait bool
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
	s, err := findRoom(cfg, open)
	if err == nil {
		s.addMachine(cfg.Root)
	}
	return s, err
}

// findRoom finds what tells of the room.
func findRoom(cfg Real, open func(name string) (i2c.BusCloser, error)) (Sensors, error) {
	s, taken := Sensors{Close: func() error { return nil }}, &channels{}
	s.addKernel(cfg.Root, taken)
	bus, noBus := open(cfg.I2C)
	switch {
	case noBus == nil:
		s.Close = bus.Close
		s.addBus(bus, cfg, taken)
	case !errors.Is(noBus, chip.ErrNoBus) || cfg.namesBus():
		s.fail(noBus)
	}
	if len(s.Guards()) > 0 {
		return s, nil
	}
	if noBus == nil {
		s.fail(fmt.Errorf("no chip that is known answers on %s", bus))
	}
	switch {
	case cfg.Wait && len(s.Buses) > 0:
		return s, nil
	case len(s.Failures) == 0:
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
