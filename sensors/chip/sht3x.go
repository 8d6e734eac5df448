package chip

import (
	"context"
	"errors"
	"fmt"
	"time"

	"periph.io/x/conn/v3/i2c"

	"recoat/sensors"
)

// The commands of an SHT3x (Sensirion SHT3x-DIS datasheet, tables 9, 13 and 17;
// the serial number is of the application note on it). The measurement is the
// one with high repeatability that does not hold the clock: the I²C controller
// of older Pis does not bear a held clock.
const (
	sht3xMeasure     = 0x2400
	sht3xStatus      = 0xF32D
	sht3xClearStatus = 0x3041
	sht3xSerial      = 0x3780
	sht3xConversion  = 16 * time.Millisecond // 15.5 at most
)

// Bits of the status word that an SHT3x and an HDC302x have in common.
const (
	statusHeater  = 1 << 13
	statusReset   = 1 << 4
	statusRefused = 1 << 1 // the last command was not understood
	statusBadSum  = 1 << 0 // the last write came with a wrong check sum
)

// errNotMeasured says that both words are zero, -45 °C and 0 %: what some chips
// give before their first measurement, with a check sum that fits.
var errNotMeasured = errors.New("the chip gives zeros: it has not measured")

type sht3x struct {
	part
	serial [2]uint16
}

// OpenSHT3x finds an SHT30, SHT31 or SHT35 at addr (0x44 or 0x45) and takes note
// of its serial number. It gives air temperature and humidity, held while the
// heater is on or where the chip restarted since the last read.
func OpenSHT3x(bus i2c.Bus, addr uint16, where string) (*Chip, error) {
	s := &sht3x{part: part{bus, addr}}
	name := Name("sht3x", where, addr)
	if err := s.open(context.Background()); err != nil {
		return nil, fmt.Errorf("open %s: %w", name, err)
	}
	return &Chip{name: name, channels: airChannels(), measure: s.measure}, nil
}

func (s *sht3x) open(ctx context.Context) error {
	if err := s.ask(ctx, sht3xSerial, s.serial[:]); err != nil {
		return err
	}
	return s.command(ctx, sht3xClearStatus)
}

func (s *sht3x) measure(ctx context.Context) (measured, error) {
	if err := s.sameChip(ctx); err != nil {
		return measured{}, err
	}
	var words [2]uint16
	err := s.command(ctx, sht3xMeasure)
	if err == nil {
		err = wait(ctx, sht3xConversion)
	}
	if err == nil {
		err = s.fetch(ctx, words[:])
	}
	if err != nil {
		return measured{}, err
	}
	quality, err := s.quality(ctx)
	if err != nil {
		return measured{}, err
	}
	if words == [2]uint16{} {
		return measured{}, errNotMeasured
	}
	return measured{[]float64{wordCelsius(words[0]), wordPercent(words[1])}, quality}, nil
}

func (s *sht3x) sameChip(ctx context.Context) error {
	var serial [2]uint16
	if err := s.ask(ctx, sht3xSerial, serial[:]); err != nil {
		return err
	}
	if serial != s.serial {
		return fmt.Errorf("the chip's serial number is %04x, it was %04x: it has been changed for another", serial, s.serial)
	}
	return nil
}

// quality reads the status. A chip that measures on demand loses nothing by a
// restart, but what it measures in that moment may be taken at a low supply.
func (s *sht3x) quality(ctx context.Context) (sensors.Quality, error) {
	var status [1]uint16
	if err := s.ask(ctx, sht3xStatus, status[:]); err != nil {
		return sensors.Missing, err
	}
	switch {
	case status[0]&(statusRefused|statusBadSum) != 0:
		return sensors.Missing, errors.Join(fmt.Errorf("the chip refused a command: its status is %#04x", status[0]), s.command(ctx, sht3xClearStatus))
	case status[0]&statusReset != 0:
		return sensors.Held, s.command(ctx, sht3xClearStatus)
	case status[0]&statusHeater != 0:
		return sensors.Held, nil
	}
	return sensors.Good, nil
}

// wordCelsius and wordPercent are the conversions of the SHT3x (datasheet,
// section 4.13), which the HDC302x shares.
func wordCelsius(w uint16) float64 { return -45 + 175*float64(w)/65535 }

func wordPercent(w uint16) float64 { return 100 * float64(w) / 65535 }

func isSHT3x(p part) bool {
	var status [1]uint16
	return p.ask(context.Background(), sht3xStatus, status[:]) == nil
}
