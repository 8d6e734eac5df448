package chip

import (
	"context"
	"errors"
	"fmt"
	"time"

	"periph.io/x/conn/v3/i2c"

	"recoat/sensors"
)

// The registers of an ADS1115 (TI SBAS444, section 8.1) and the one setting used:
// one conversion of one input against ground, ±4.096 V, 64 a second, comparator
// off.
const (
	adcResult  = 0
	adcConfig  = 1
	adcDone    = 1 << 15 // read; written, it begins a conversion
	adcInput   = 12      // place of the input's number
	adcSetting = 0x4363
	adcSpan    = 4.096 // V
	adcFull    = 0x7FFF

	adcConversion = 17 * time.Millisecond // at a clock 10 % slow
	adcPoll       = 2 * time.Millisecond
	adcPolls      = 20
)

// ADC is an ADS1115, which converts one of its inputs at a time. It may be used
// by several thermistors at once.
//
// The driver of periph.io is left aside: it waits for the nominal time of a
// conversion without asking whether that has ended, and on a chip with a slow
// clock returns what the input before it had.
type ADC struct {
	part
	name string
	turn turn // held for the length of a conversion
}

// NewADC returns the converter at addr (0x48 to 0x4B), which need not be there
// yet.
func NewADC(bus i2c.Bus, addr uint16, where string) *ADC {
	return &ADC{part: part{bus, addr}, name: Name("ads1115", where, addr), turn: newTurn()}
}

type thermistorChip struct {
	adc   *ADC
	probe Thermistor
}

// OpenThermistor reads a thermistor through a converter. It gives the temperature
// of the surface that the thermistor lies on.
func OpenThermistor(adc *ADC, probe Thermistor) (*Chip, error) {
	name := ThermistorName(adc, probe)
	if err := probe.Check(); err != nil {
		return nil, fmt.Errorf("open %s: %w", name, err)
	}
	if _, err := adc.register(context.Background(), adcConfig); err != nil {
		return nil, fmt.Errorf("open %s: %w", name, err)
	}
	c := thermistorChip{adc, probe}
	return &Chip{name: name, channels: surfaceChannel(), measure: c.measure}, nil
}

// ThermistorName returns what a thermistor is called.
func ThermistorName(adc *ADC, probe Thermistor) string {
	return fmt.Sprintf("thermistor %d of %s", probe.Input, adc.name)
}

func (c thermistorChip) measure(ctx context.Context) (measured, error) {
	supply := c.probe.Supply
	if supply == 0 {
		var err error
		if supply, err = c.adc.volts(ctx, lastInput); err != nil {
			return measured{}, err
		}
		if supply < 1 {
			return measured{}, fmt.Errorf("the supply on input %d is %.2f V: is it wired there?", lastInput, supply)
		}
	}
	volts, err := c.adc.volts(ctx, c.probe.Input)
	if err != nil {
		return measured{}, err
	}
	ohms, err := c.probe.resistance(volts / supply)
	if err != nil {
		return measured{}, err
	}
	return measured{[]float64{c.probe.Curve.Celsius(ohms)}, sensors.Good}, nil
}

// volts converts one input, and makes sure that it was that one.
func (a *ADC) volts(ctx context.Context, input int) (float64, error) {
	if err := a.turn.take(ctx); err != nil {
		return 0, err
	}
	defer a.turn.give()
	want := uint16(adcSetting | input<<adcInput)
	if err := a.setRegister(ctx, adcConfig, want|adcDone); err != nil {
		return 0, err
	}
	if err := wait(ctx, adcConversion); err != nil {
		return 0, err
	}
	if err := a.await(ctx, want); err != nil {
		return 0, err
	}
	raw, err := a.register(ctx, adcResult)
	if err != nil {
		return 0, err
	}
	if raw == adcFull {
		return 0, fmt.Errorf("input %d is above %v V", input, adcSpan)
	}
	return adcVolts(raw), nil
}

func (a *ADC) await(ctx context.Context, want uint16) error {
	for range adcPolls {
		got, err := a.register(ctx, adcConfig)
		switch {
		case err != nil:
			return err
		case got&^adcDone != want:
			return fmt.Errorf("the converter's setting is %#04x, it was set to %#04x: its supply dipped, or another program uses it", got&^adcDone, want)
		case got&adcDone != 0:
			return nil
		}
		if err := wait(ctx, adcPoll); err != nil {
			return err
		}
	}
	return errors.New("the conversion does not end")
}

func adcVolts(raw uint16) float64 { return float64(int16(raw)) * adcSpan / 32768 }
