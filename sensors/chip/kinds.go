package chip

import (
	"time"

	"periph.io/x/conn/v3/i2c"

	"recoat/sensors"
)

// Kind is a kind of chip that can be found on a bus.
type Kind struct {
	Name      string // such as "sht3x"
	Addresses []uint16
	Channels  []sensors.Channel
	Deadline  time.Duration // of a read; 0 for the usual one

	// Answers reports whether the chip at an address is of this kind. It sets
	// nothing: it reads, or sends a command that only asks.
	Answers func(bus i2c.Bus, addr uint16) bool
	// Open starts the chip; where is its bus's name in messages.
	Open func(bus i2c.Bus, addr uint16, where string) (sensors.Source, error)
}

// Kinds returns every kind, in the order in which to try them: the more exact a
// chip's identity, the earlier. Emissivity is that of what an MLX90614 looks at.
func Kinds(emissivity float64) []Kind {
	mlx := func(bus i2c.Bus, addr uint16, where string) (*Chip, error) {
		return OpenMLX90614(bus, addr, where, emissivity)
	}
	return []Kind{
		{"bme280", addresses(0x76, 0x77), BME280Channels(), 0, answers(isBME280), openBME280},
		{"hdc302x", addresses(0x44, 0x47), airChannels(), 0, answers(isHDC302x), opens(OpenHDC302x)},
		{"sht3x", addresses(0x44, 0x45), airChannels(), 0, answers(isSHT3x), opens(OpenSHT3x)},
		{"sht4x", addresses(0x44, 0x46), airChannels(), 0, answers(isSHT4x), opens(OpenSHT4x)},
		{"mcp9808", addresses(0x18, 0x1F), surfaceChannel(), 0, answers(isMCP9808), opens(OpenMCP9808)},
		{"mlx90614", addresses(0x5A, 0x5A), surfaceChannel(), 0, answers(isMLX90614), opens(mlx)},
		{"scd4x", addresses(0x62, 0x62), carbonDioxideChannel(), SCD4xDeadline, answers(isSCD4x), opens(OpenSCD4x)},
		{"tmp102", addresses(0x48, 0x4B), surfaceChannel(), 0, answers(isTMP102), opens(OpenTMP102)},
		{"aht20", addresses(0x38, 0x38), airChannels(), 0, answers(isAHT20), opens(OpenAHT20)},
	}
}

// addresses lists first to last.
func addresses(first, last uint16) []uint16 {
	var all []uint16
	for a := first; a <= last; a++ {
		all = append(all, a)
	}
	return all
}

func answers(is func(part) bool) func(i2c.Bus, uint16) bool {
	return func(bus i2c.Bus, addr uint16) bool { return is(part{bus, addr}) }
}

func opens(open func(i2c.Bus, uint16, string) (*Chip, error)) func(i2c.Bus, uint16, string) (sensors.Source, error) {
	return func(bus i2c.Bus, addr uint16, where string) (sensors.Source, error) {
		c, err := open(bus, addr, where)
		if err != nil {
			return nil, err // not c: a nil *Chip is a Source that is not nil
		}
		return c, nil
	}
}

func openBME280(bus i2c.Bus, addr uint16, where string) (sensors.Source, error) {
	b, err := OpenBME280(bus, addr, where)
	if err != nil {
		return nil, err
	}
	return b, nil
}

func isBME280(p part) bool {
	var id [1]byte
	return p.bus.Tx(p.addr, []byte{regID}, id[:]) == nil && id[0] == idBME280
}
