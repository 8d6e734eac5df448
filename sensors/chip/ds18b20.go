package chip

import (
	"context"
	"errors"
	"fmt"

	"periph.io/x/conn/v3/onewire"

	"recoat/sensors"
)

// The places in the memory of a DS18B20 (Maxim datasheet, "memory"), and the
// values of its temperature that are none.
const (
	padConfig  = 4
	padLeft    = 6
	padPowerOn = 0x0550 // 85 °C
	padFailed  = 0x07FF // 127.9375 °C
)

// OpenDS18B20 finds a probe on the bus. It gives the temperature of the surface
// that the probe lies on. A read takes 760 ms.
//
// The driver of periph.io is left aside: its guard against the value after
// power-on compares kelvins with degrees and never holds, zeros pass its check
// sum, and it writes the probe's lasting memory, which bears 50,000 writes.
// Nothing is written here; the resolution is the probe's own.
func OpenDS18B20(wire *OneWire, probe onewire.Address) (*Chip, error) {
	name := "ds18b20 " + ROM(probe)
	if err := checkROM(probe); err != nil {
		return nil, fmt.Errorf("open %s: %w", name, err)
	}
	measure := func(ctx context.Context) (measured, error) {
		pad, err := wire.pad(ctx, probe)
		if err != nil {
			return measured{}, err
		}
		t, err := padCelsius(pad)
		return measured{[]float64{t}, sensors.Good}, err
	}
	return &Chip{name: name, channels: surfaceChannel(), measure: measure}, nil
}

// ROM writes a probe's code as Linux does, "28-0316a2791b5f": the family, then
// the serial number without its check sum.
func ROM(a onewire.Address) string {
	return fmt.Sprintf("%02x-%012x", byte(a), uint64(a)>>8&0xFFFFFFFFFFFF)
}

// padCelsius returns the temperature that the memory holds, and an error for
// what only looks like one.
func padCelsius(pad [9]byte) (float64, error) {
	raw := uint16(pad[1])<<8 | uint16(pad[0])
	switch {
	case pad == [9]byte{}:
		// Zeros carry a check sum of zero, which fits.
		return 0, errors.New("the probe answers with zeros: its data wire is held low")
	case !onewire.CheckCRC(pad[:]):
		return 0, errors.New("the check sum does not fit: the probe is off, or its cable or pull-up resistor is bad")
	case pad[padConfig]&0x9F != 0x1F:
		return 0, fmt.Errorf("the probe's settings read %#02x, which no DS18B20 has", pad[padConfig])
	case raw == padPowerOn && pad[padLeft] == 0x0C:
		return 0, errors.New("the probe shows 85 °C, its power-on value: it restarted and has not measured; check its supply")
	case raw == padFailed:
		return 0, errors.New("the probe shows 127.94 °C: it could not measure; check its supply")
	}
	// Below 12 bits the last ones are left over from before.
	unused := 3 - pad[padConfig]>>5&3
	return float64(int16(raw)>>unused<<unused) / 16, nil
}
