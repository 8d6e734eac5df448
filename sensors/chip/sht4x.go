package chip

import (
	"context"
	"fmt"
	"time"

	"periph.io/x/conn/v3/i2c"

	"recoat/sensors"
)

// The commands of an SHT4x, one byte each (Sensirion SHT4x datasheet, table 8).
// None of those that pulse the heater is ever sent.
const (
	sht4xMeasure    = 0xFD
	sht4xSerial     = 0x89
	sht4xConversion = 10 * time.Millisecond // 8.3 at most
	sht4xAnswer     = time.Millisecond
)

type sht4x struct {
	part
	serial [2]uint16
}

// OpenSHT4x finds an SHT40, SHT41, SHT43 or SHT45 at addr (0x44 to 0x46) and
// takes note of its serial number. It gives air temperature and humidity.
func OpenSHT4x(bus i2c.Bus, addr uint16, where string) (*Chip, error) {
	s := &sht4x{part: part{bus, addr}}
	name := Name("sht4x", where, addr)
	var err error
	if s.serial, err = s.exchange(context.Background(), sht4xSerial, sht4xAnswer); err != nil {
		return nil, fmt.Errorf("open %s: %w", name, err)
	}
	return &Chip{name: name, channels: airChannels(), measure: s.measure}, nil
}

// exchange sends a command and reads the two words it is answered with.
func (s *sht4x) exchange(ctx context.Context, cmd byte, takes time.Duration) (words [2]uint16, err error) {
	if err = s.tx(ctx, []byte{cmd}, nil); err != nil {
		return words, err
	}
	if err = wait(ctx, takes); err != nil {
		return words, err
	}
	return words, s.fetch(ctx, words[:])
}

func (s *sht4x) measure(ctx context.Context) (measured, error) {
	serial, err := s.exchange(ctx, sht4xSerial, sht4xAnswer)
	if err != nil {
		return measured{}, err
	}
	if serial != s.serial {
		return measured{}, fmt.Errorf("the chip's serial number is %04x, it was %04x: it has been changed for another", serial, s.serial)
	}
	words, err := s.exchange(ctx, sht4xMeasure, sht4xConversion)
	if err != nil {
		return measured{}, err
	}
	if words == [2]uint16{} {
		return measured{}, errNotMeasured
	}
	return measured{[]float64{wordCelsius(words[0]), sht4xPercent(words[1])}, sensors.Good}, nil
}

// sht4xPercent is the conversion of the datasheet, section 4.6. It reaches past
// both ends of the scale, and is cut there as the datasheet advises.
func sht4xPercent(w uint16) float64 { return min(max(-6+125*float64(w)/65535, 0), 100) }

func isSHT4x(p part) bool {
	_, err := (&sht4x{part: p}).exchange(context.Background(), sht4xSerial, sht4xAnswer)
	return err == nil
}
