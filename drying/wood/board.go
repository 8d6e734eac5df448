package wood

import (
	"fmt"
	"math"

	"recoat/sensors"
)

// Board is a panel of wood with both faces in the room's air.
type Board struct {
	Thickness       float64 // m
	SpecificGravity float64 // dry mass over volume as it is, against water: 0.3 to 0.9
	Moisture        float64 // per cent of the dry mass, up to 25
	FilmCoefficient float64 // heat exchange with the room, W/(m²·K)
}

// Typical returns a board of middling hardwood at 8 % moisture, in still room
// air (surface resistance 0.13 m²·K/W, ISO 6946:2017), of a thickness in
// metres.
func Typical(thickness float64) Board {
	return Board{Thickness: thickness, SpecificGravity: 0.5, Moisture: 8, FilmCoefficient: 7.7}
}

// Check returns what is wrong with the board's figures, or nil.
func (b Board) Check() error {
	for _, f := range []struct {
		name     string
		v        float64
		min, max float64
		unit     string
	}{
		{"thickness", b.Thickness * 1000, 0.5, 300, "mm"},
		{"specific gravity", b.SpecificGravity, 0.1, 1.4, "of water"},
		{"moisture", b.Moisture, 0, 25, "%"},
		{"heat exchange", b.FilmCoefficient, 1, 100, "W/(m²·K)"},
	} {
		if math.IsNaN(f.v) || f.v < f.min || f.v > f.max {
			return fmt.Errorf("%s of the board is %v %s: %v to %v can be reckoned with", f.name, f.v, f.unit, f.min, f.max)
		}
	}
	return nil
}

// Conductivity returns the heat conductivity across the grain near 24 °C,
// W/(m·K), within 20 %: Wood Handbook (FPL-GTR-282), equation 4-15.
func (b Board) Conductivity() float64 {
	return b.SpecificGravity*(0.1941+0.004064*b.Moisture) + 0.01864
}

// Density returns the mass of the moist board over its volume, kg/m³.
func (b Board) Density() float64 { return 1000 * b.SpecificGravity * (1 + b.Moisture/100) }

// HeatCapacity returns the heat capacity of wood with the given moisture (per
// cent of the dry mass) at t, J/(kg·K): Wood Handbook (FPL-GTR-282),
// chapter 4.
func HeatCapacity(moisture float64, t sensors.Celsius) float64 {
	kelvin := t.Absolute()
	dry := 0.1031 + 0.003867*kelvin
	bound := moisture * (-0.06191 + 2.36e-4*kelvin - 1.33e-4*moisture)
	return 1000 * ((dry+4.18*moisture/100)/(1+moisture/100) + bound)
}

// roomTemperature is where the board's heat capacity is taken: it changes by
// less than 1 % in 3 K.
const roomTemperature sensors.Celsius = 20

func (b Board) heatCapacity() float64 { return HeatCapacity(b.Moisture, roomTemperature) }

// Diffusivity returns how fast heat spreads across the board, m²/s.
func (b Board) Diffusivity() float64 {
	return b.Conductivity() / (b.Density() * b.heatCapacity())
}
