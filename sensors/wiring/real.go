package wiring

import (
	"errors"
	"fmt"
	"slices"

	"periph.io/x/conn/v3/i2c"

	"recoat/sensors"
	"recoat/sensors/chip"
	"recoat/sensors/kernel"
	"recoat/sensors/poll"
)

// Real says where this machine's sensors are.
type Real struct {
	Root string // the root of the file system
	I2C  string // number of the I²C bus; empty: the first there is
}

// ErrNone says that the machine has no sensor. The error that wraps it says
// where it was looked.
var ErrNone = errors.New("this machine has no sensor")

// Find looks for sensors that the kernel drives and for a BME280 on the bus.
// Where two give the same channel the kernel's is taken.
func Find(cfg Real) (Sensors, error) {
	sources, err := kernel.Discover(cfg.Root)
	if err != nil {
		return Sensors{}, err
	}
	s := Sensors{Close: func() error { return nil }}
	taken := map[sensors.Channel]bool{}
	for _, source := range sources {
		for _, c := range source.Channels() {
			taken[c] = true
		}
		s.Guards = append(s.Guards, poll.NewGuard(poll.Over(source)))
	}
	var noBus error
	if !taken[sensors.Channel{Quantity: sensors.AirHumidity}] {
		noBus = s.addChips(cfg.I2C, taken)
	}
	if len(s.Guards) == 0 {
		return Sensors{}, fmt.Errorf("%w: nothing below %s in sys/bus/w1, sys/bus/iio or sys/class/hwmon, and %w", ErrNone, cfg.Root, noBus)
	}
	return s, nil
}

// bme280Addresses are the two that the chip can be strapped to.
var bme280Addresses = []uint16{0x76, 0x77}

// addChips guards the first BME280 that answers on the bus, less the channels
// that the kernel gives already.
func (s *Sensors) addChips(name string, taken map[sensors.Channel]bool) error {
	bus, err := chip.OpenBus(name)
	if err != nil {
		return err
	}
	for _, addr := range bme280Addresses {
		if _, err := chip.OpenBME280(bus, addr, bus.String()); err == nil {
			s.Guards = append(s.Guards, bme280(bus, addr, bus.String(), taken))
			s.Close = bus.Close
			return nil
		}
	}
	return errors.Join(fmt.Errorf("no BME280 answers at 0x76 or 0x77 on %s", bus), bus.Close())
}

// bme280 guards a chip that may have to be started again.
func bme280(bus i2c.Bus, addr uint16, where string, taken map[sensors.Channel]bool) *poll.Guard {
	return poll.NewGuard(poll.GuardConfig{
		Name:     chip.BME280Name(where, addr),
		Channels: slices.DeleteFunc(chip.BME280Channels(), func(c sensors.Channel) bool { return taken[c] }),
		Open:     func() (sensors.Source, error) { return chip.OpenBME280(bus, addr, where) },
	})
}
