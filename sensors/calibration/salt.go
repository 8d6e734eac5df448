package calibration

import (
	"fmt"
	"math"

	"recoat/sensors"
)

// Salt is one whose saturated solution holds the air above it at a humidity
// that depends on the temperature alone.
type Salt struct {
	ID      string // "NaCl"
	Name    string // for a finisher
	Caution string
	// Bound is the published humidity's uncertainty, %RH: the largest of the
	// span, taken as the half-width of an even spread (JCGM 100:2008, 4.3.7).
	Bound    float64
	min, max sensors.Celsius
	a        [4]float64 // humidity in %RH = Σ a·t^i, t in °C
}

// salts: L. Greenspan, "Humidity fixed points of binary saturated aqueous
// solutions", Journal of Research of the National Bureau of Standards 81A
// (1977) 89-96, his fitted equations and the largest of his uncertainties, as
// a public copy gives them. Those of potassium carbonate, its bound
// too, are from memory.
var salts = []Salt{
	{ID: "LiCl", Name: "lithium chloride", Caution: "harmful if swallowed: gloves, and keep it from food", Bound: 0.6, max: 50,
		a: [4]float64{11.2323, 0.00824245, -2.14890e-4, 0}},
	{ID: "MgCl2", Name: "magnesium chloride", Bound: 0.4, max: 50,
		a: [4]float64{33.6686, -0.00797397, -1.08988e-3, 0}},
	{ID: "K2CO3", Name: "potassium carbonate", Caution: "its brine burns eyes and skin: gloves and glasses", Bound: 0.7, max: 30,
		a: [4]float64{43.1315, 0.00147523, 0, 0}},
	{ID: "NaCl", Name: "sodium chloride, plain salt without iodine or anti-caking", Bound: 0.4, max: 50,
		a: [4]float64{75.5164, 0.0398321, -2.65459e-3, 2.848e-5}},
	{ID: "KCl", Name: "potassium chloride", Bound: 0.6, max: 50,
		a: [4]float64{88.619, -0.193340, 8.99706e-4, 0}},
	{ID: "K2SO4", Name: "potassium sulphate", Bound: 1.1, max: 50,
		a: [4]float64{98.7792, -0.0590502, 0, 0}},
}

// Salts returns every salt, driest first.
func Salts() []Salt { return append([]Salt(nil), salts...) }

// FindSalt finds a salt by its formula.
func FindSalt(id string) (Salt, error) {
	for _, s := range salts {
		if s.ID == id {
			return s, nil
		}
	}
	return Salt{}, fmt.Errorf("no salt is called %.20q: LiCl, MgCl2, K2CO3, NaCl, KCl or K2SO4", id)
}

// Humidity returns the relative humidity above the saturated solution at t, in
// %RH.
func (s Salt) Humidity(t sensors.Celsius) (float64, error) {
	if !(t >= s.min && t <= s.max) {
		return 0, fmt.Errorf("%s is known from %v to %v °C, not at %.1f °C", s.ID, s.min, s.max, float64(t))
	}
	x := float64(t)
	return s.a[0] + x*(s.a[1]+x*(s.a[2]+x*s.a[3])), nil
}

// steadiness is how far solution and air may differ in temperature while the
// readings are steady, K. Common practice, no source.
const steadiness = 0.1

// Sigma returns the standard uncertainty of the humidity at the sensor, %RH:
// that of the published value, and that the air may be a little warmer or
// colder than the solution, which moves the humidity by some 6 % of itself for
// each kelvin.
func (s Salt) Sigma(t sensors.Celsius) float64 {
	rh, err := s.Humidity(t)
	if err != nil {
		return math.NaN()
	}
	return math.Hypot(s.Bound/math.Sqrt(3), 0.06*rh*steadiness/math.Sqrt(3))
}
