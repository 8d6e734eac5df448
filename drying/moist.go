package drying

import (
	"math"

	"recoat/drying/air"
	"recoat/sensors"
)

// moist is what the families compute with: conditions, and what follows from
// them, in plain numbers. Temperatures are in °C, pressures in pascals.
type moist struct {
	air, surface, humidity float64
	vapour                 float64 // pressure of the water in the air
	dew                    float64
	film                   float64 // the wet film while it is cooled by what leaves it
	speed                  float64 // m/s, not below that of still room air
}

// stillAir is the air speed of a room with nothing moving, m/s, at which
// labels are taken to hold.
const stillAir = 0.1

// newMoist takes conditions that Check accepts. The film shows the share wet
// of the air's wet-bulb depression: 0 for a film at its surface's temperature.
func newMoist(c Conditions, wet float64) moist {
	vapour := air.VapourPressure(c.Air, c.Humidity)
	m := moist{
		air: float64(c.Air), surface: float64(c.Surface), humidity: float64(c.Humidity),
		vapour: float64(vapour),
		dew:    float64(air.DewPointOf(vapour)),
		film:   float64(c.Surface),
		speed:  math.Max(float64(c.AirSpeed), stillAir),
	}
	if wet > 0 {
		m.film -= wet * float64(c.Air-air.WetBulb(c.Air, c.Humidity, c.Pressure))
	}
	return m
}

// atSurface is the relative humidity where the air touches the surface, %.
func (m *moist) atSurface() float64 {
	return float64(air.HumidityAtSurface(sensors.Pascals(m.vapour), sensors.Celsius(m.surface)))
}
