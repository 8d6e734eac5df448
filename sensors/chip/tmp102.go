package chip

import (
	"context"
	"errors"
	"fmt"
	"time"

	"periph.io/x/conn/v3/i2c"

	"recoat/sensors"
)

// The registers of a TMP102 (TI SBOS397, section 6.5).
const (
	tmp102Temperature = 0
	tmp102Config      = 1
	tmp102Low         = 2
	tmp102High        = 3

	tmp102Fixed   = 0x600F // always 0x6000: the resolution reads as ones, the last four bits as zeros
	tmp102Alert   = 0x0020 // follows the temperature
	tmp102OneShot = 0x8000 // written, it begins a conversion; read, the conversion has ended
	tmp102Setting = 0x6180 // shut down between conversions; after power-on it converts by itself

	tmp102Conversion = 26 * time.Millisecond // 35 at most
	tmp102Poll       = 2 * time.Millisecond
	tmp102Polls      = 10
)

type tmp102 struct{ part }

// OpenTMP102 finds a TMP102 at addr (0x48 to 0x4B) and sets it to convert when it
// is asked. It gives the temperature of the surface that it lies on.
//
// The driver of periph.io is left aside: it writes back a configuration that it
// failed to read, and takes the bytes of a dead wire for 0 or -0.06 °C. Nor can
// it tell 0 °C from the register before the first conversion, as the chip
// converts by itself there. Here the chip says that a conversion has ended, and
// the setting differs from that after power-on, so that a restart shows.
func OpenTMP102(bus i2c.Bus, addr uint16, where string) (*Chip, error) {
	t := tmp102{part{bus, addr}}
	name := Name("tmp102", where, addr)
	if err := t.open(context.Background()); err != nil {
		return nil, fmt.Errorf("open %s: %w", name, err)
	}
	return &Chip{name: name, channels: surfaceChannel(), measure: t.measure}, nil
}

func (t tmp102) open(ctx context.Context) error {
	if err := identifyTMP102(ctx, t.part); err != nil {
		return err
	}
	return t.setRegister(ctx, tmp102Config, tmp102Setting)
}

func (t tmp102) measure(ctx context.Context) (measured, error) {
	if err := t.configured(ctx); err != nil {
		return measured{}, err
	}
	if err := t.setRegister(ctx, tmp102Config, tmp102Setting|tmp102OneShot); err != nil {
		return measured{}, err
	}
	if err := t.await(ctx); err != nil {
		return measured{}, err
	}
	raw, err := t.register(ctx, tmp102Temperature)
	if err != nil {
		return measured{}, err
	}
	if raw&0xF != 0 {
		return measured{}, fmt.Errorf("the temperature register holds %#04x, whose last four bits are none of a TMP102's", raw)
	}
	return measured{[]float64{tmp102Celsius(raw)}, sensors.Good}, nil
}

// configured reports a chip that has lost its settings.
func (t tmp102) configured(ctx context.Context) error {
	_, err := t.ended(ctx)
	return err
}

// await waits for the conversion to end.
func (t tmp102) await(ctx context.Context) error {
	if err := wait(ctx, tmp102Conversion); err != nil {
		return err
	}
	for range tmp102Polls {
		if done, err := t.ended(ctx); done || err != nil {
			return err
		}
		if err := wait(ctx, tmp102Poll); err != nil {
			return err
		}
	}
	return errors.New("the conversion does not end")
}

func (t tmp102) ended(ctx context.Context) (bool, error) {
	config, err := t.register(ctx, tmp102Config)
	if err != nil {
		return false, err
	}
	if got := config &^ (tmp102OneShot | tmp102Alert); got != tmp102Setting {
		return false, fmt.Errorf("the chip has lost its settings (%#04x, want %#04x): its supply dipped", got, tmp102Setting)
	}
	return config&tmp102OneShot != 0, nil
}

// tmp102Celsius: twelve bits with a sign, 1/16 °C each, at the top of the
// register (datasheet, table 6-2).
func tmp102Celsius(raw uint16) float64 { return float64(int16(raw)>>4) / 16 }

// identifyTMP102 looks for the bits that never change. The chip has no number
// that names it, and the ADS1115 at the same addresses has other bits there.
func identifyTMP102(ctx context.Context, p part) error {
	config, err := p.register(ctx, tmp102Config)
	if err != nil {
		return err
	}
	low, err := p.register(ctx, tmp102Low)
	if err != nil {
		return err
	}
	high, err := p.register(ctx, tmp102High)
	if err != nil {
		return err
	}
	if config&tmp102Fixed != 0x6000 || low&0xF != 0 || high&0xF != 0 || int16(low) >= int16(high) {
		return errors.New("its registers are not those of a TMP102")
	}
	return nil
}

func isTMP102(p part) bool { return identifyTMP102(context.Background(), p) == nil }
