package chip

import (
	"context"
	"fmt"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
	"periph.io/x/devices/v3/aht20"

	"recoat/sensors"
)

const (
	aht20Busy  = 1 << 7
	aht20Start = 40 * time.Millisecond // from power-on to the first command (ASAIR AHT20 datasheet, section 5.4)
)

// OpenAHT20 finds an AHT20 at 0x38, its only address, and calibrates it where
// it asks for that. It gives air temperature and humidity.
//
// Of the driver of periph.io only Sense is used, which checks the sum, the busy
// bit and the calibration bit, and is bounded. What it lacks is the wait after
// power-on: a chip that has only just come back is opened in vain.
func OpenAHT20(bus i2c.Bus, addr uint16, where string) (*Chip, error) {
	name := Name("aht20", where, addr)
	if addr != 0x38 {
		return nil, fmt.Errorf("open %s: an AHT20 has the address 0x38 only", name)
	}
	time.Sleep(aht20Start)
	dev, err := aht20.NewI2C(bus, nil)
	if err != nil {
		return nil, fmt.Errorf("open %s: %w", name, err)
	}
	measure := func(ctx context.Context) (measured, error) {
		if err := ctx.Err(); err != nil {
			return measured{}, err
		}
		var env physic.Env
		if err := dev.Sense(&env); err != nil {
			return measured{}, err
		}
		return measured{[]float64{celsius(env.Temperature), float64(env.Humidity) / float64(physic.PercentRH)}, sensors.Good}, nil
	}
	return &Chip{name: name, channels: airChannels(), measure: measure}, nil
}

// isAHT20 reads the status without writing anything first, because a port
// expander at this address would put out whatever is written. Only what answers
// like an AHT20 is asked to measure, and must then get the check sum right.
func isAHT20(p part) bool {
	var status [1]byte
	err := p.tx(context.Background(), nil, status[:])
	if err != nil || status[0] == 0 || status[0]&aht20Busy != 0 {
		return false
	}
	dev, err := aht20.NewI2C(p.bus, nil)
	if err != nil {
		return false
	}
	var env physic.Env
	return dev.Sense(&env) == nil
}
