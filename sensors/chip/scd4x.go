package chip

import (
	"context"
	"errors"
	"fmt"
	"time"

	"periph.io/x/conn/v3/i2c"

	"recoat/sensors"
)

// The commands of an SCD40 or SCD41 (Sensirion SCD4x datasheet, table 9).
const (
	scd4xStart  = 0x21B1 // a measurement every 5 s from now on
	scd4xReady  = 0xE4B8
	scd4xRead   = 0xEC05
	scd4xSerial = 0x3682 // answered only while the chip stands idle

	scd4xUnread = 0x07FF // bits of the answer to scd4xReady; all zero: nothing new
	scd4xAnswer = time.Millisecond
	scd4xPoll   = 200 * time.Millisecond
)

// SCD4xDeadline is how long a read of an SCD4x may take: a new measurement comes
// every 5 s.
const SCD4xDeadline = 6 * time.Second

type scd4x struct{ part }

// OpenSCD4x finds an SCD40 or SCD41 at addr (0x62) and sets it measuring unless
// it does. It gives carbon dioxide. The chip's own temperature and humidity,
// good to 0.8 K and 6 %, only correct its first quantity and are left out.
//
// The driver of periph.io is left aside: it measures its wait with the wall
// clock, which a set clock ends or lengthens, and stops a chip that measures
// already, so that each start costs the first measurement.
func OpenSCD4x(bus i2c.Bus, addr uint16, where string) (*Chip, error) {
	s := scd4x{part{bus, addr}}
	name := Name("scd4x", where, addr)
	if err := s.open(context.Background()); err != nil {
		return nil, fmt.Errorf("open %s: %w", name, err)
	}
	return &Chip{name: name, channels: carbonDioxideChannel(), measure: s.measure}, nil
}

func (s scd4x) open(ctx context.Context) error {
	if _, err := s.ready(ctx); err != nil {
		return err
	}
	var serial [3]uint16
	if s.answer(ctx, scd4xSerial, serial[:]) != nil {
		return nil // it measures, and takes no other question
	}
	return s.command(ctx, scd4xStart)
}

func (s scd4x) measure(ctx context.Context) (measured, error) {
	for {
		ready, err := s.ready(ctx)
		if err != nil {
			return measured{}, err
		}
		if ready {
			break
		}
		if err := wait(ctx, scd4xPoll); err != nil {
			return measured{}, fmt.Errorf("no new measurement: %w", err)
		}
	}
	var words [3]uint16 // carbon dioxide, temperature, humidity
	if err := s.answer(ctx, scd4xRead, words[:]); err != nil {
		return measured{}, err
	}
	if words[0] == 0 {
		return measured{}, errors.New("the chip gives 0 ppm: it has not measured")
	}
	return measured{[]float64{float64(words[0])}, sensors.Good}, nil
}

func (s scd4x) ready(ctx context.Context) (bool, error) {
	var word [1]uint16
	err := s.answer(ctx, scd4xReady, word[:])
	return word[0]&scd4xUnread != 0, err
}

// answer sends a command, gives the chip its millisecond, and reads.
func (s scd4x) answer(ctx context.Context, cmd uint16, words []uint16) error {
	if err := s.command(ctx, cmd); err != nil {
		return err
	}
	if err := wait(ctx, scd4xAnswer); err != nil {
		return err
	}
	return s.fetch(ctx, words)
}

func isSCD4x(p part) bool {
	_, err := scd4x{p}.ready(context.Background())
	return err == nil
}
