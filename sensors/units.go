package sensors

import "math"

// ZeroCelsius is 0 °C on the absolute scale, in kelvins.
const ZeroCelsius = 273.15

// Celsius is a temperature in degrees Celsius. A difference of two
// temperatures is a Kelvins, never a Celsius.
type Celsius float64

// Kelvins is a difference of temperatures, in kelvins.
type Kelvins float64

// RelativeHumidity is in per cent of saturation over water, 0 to 100.
type RelativeHumidity float64

// Pascals is a pressure in pascals.
type Pascals float64

// MetresPerSecond is an air speed.
type MetresPerSecond float64

// StandardPressure is the pressure at sea level of the standard atmosphere
// (ISO 2533:1975).
const StandardPressure Pascals = 101325

// Sub returns how much warmer c is than other.
func (c Celsius) Sub(other Celsius) Kelvins { return Kelvins(c - other) }

// Add returns the temperature d above c.
func (c Celsius) Add(d Kelvins) Celsius { return c + Celsius(d) }

// Absolute returns c on the absolute scale, in kelvins.
func (c Celsius) Absolute() float64 { return float64(c) + ZeroCelsius }

// Fahrenheit returns c in degrees Fahrenheit.
func (c Celsius) Fahrenheit() float64 { return float64(c)*9/5 + 32 }

// FromFahrenheit converts degrees Fahrenheit.
func FromFahrenheit(f float64) Celsius { return Celsius((f - 32) * 5 / 9) }

// IsFinite reports whether v is a number a sensor could have meant.
func IsFinite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
