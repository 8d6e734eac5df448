package chip

import (
	"errors"
	"fmt"
	"math"

	"recoat/sensors"
)

// Thermistor is one with a falling resistance, wired between an input of the
// converter and ground, with a fixed resistor from the input to the supply.
type Thermistor struct {
	Input  int     // of the converter, 0 to 3
	Series float64 // the fixed resistor, Ω
	Supply float64 // V; 0: measured, as input 3 is wired to it
	Curve  Curve
}

// Curve says which temperature a resistance means: by R25 and Beta, or by the
// coefficients of Steinhart and Hart (Deep-Sea Research 15, 1968, 497–503). The
// other set is zero.
type Curve struct {
	R25  float64 // Ω at 25 °C
	Beta float64 // K

	A, B, C float64 // 1/T = A + B ln R + C (ln R)³, T in kelvins, R in Ω
}

// room is the temperature at which R25 holds, in kelvins.
const room = 25 + sensors.ZeroCelsius

// Celsius returns the temperature of a resistance in Ω.
func (c Curve) Celsius(ohms float64) float64 {
	ln := math.Log(ohms)
	if c.R25 > 0 {
		return 1/(1/room+(ln-math.Log(c.R25))/c.Beta) - sensors.ZeroCelsius
	}
	return 1/(c.A+c.B*ln+c.C*ln*ln*ln) - sensors.ZeroCelsius
}

// lastInput is where the divider's supply is measured.
const lastInput = 3

// Check says what of it cannot be right.
func (t Thermistor) Check() error {
	byBeta := t.Curve.R25 > 0 && t.Curve.Beta > 0 && t.Curve.A == 0 && t.Curve.B == 0 && t.Curve.C == 0
	byCoefficients := t.Curve.R25 == 0 && t.Curve.Beta == 0 && t.Curve.A != 0 && t.Curve.B > 0
	switch {
	case t.Input < 0 || t.Input > lastInput:
		return fmt.Errorf("input %d: from 0 to %d", t.Input, lastInput)
	case t.Supply == 0 && t.Input == lastInput:
		return fmt.Errorf("input %d: it measures the supply where none is given", lastInput)
	case !(t.Supply == 0 || t.Supply >= 1 && t.Supply <= adcSpan):
		return fmt.Errorf("a supply of %v V: from 1 to %v, or 0 to measure it", t.Supply, adcSpan)
	case !(t.Series > 0):
		return fmt.Errorf("a series resistor of %v Ω: say what is wired in", t.Series)
	case !byBeta && !byCoefficients:
		return errors.New("a thermistor needs r25 and beta, or the coefficients a, b and c, and not both")
	}
	return nil
}

// A divider nearer to an end than this is a wire off or two wires touching. With
// equal resistors at 25 °C it is past -50 or 180 °C.
const dividerEnd = 0.015

// resistance returns that of the thermistor, in Ω, from the part of the supply
// that is across it.
func (t Thermistor) resistance(part float64) (float64, error) {
	switch {
	case part < dividerEnd:
		return 0, errors.New("the thermistor reads as a short: its wires touch, or the supply is off")
	case part > 1-dividerEnd:
		return 0, errors.New("the thermistor reads as open: a wire is off")
	}
	return t.Series * part / (1 - part), nil
}
