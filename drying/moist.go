package drying

import (
	"recoat/drying/air"
	"recoat/sensors"
)

// moist is what the families compute with: conditions, and what follows from
// them, in plain numbers. Temperatures are in °C, pressures in pascals.
type moist struct {
	air, surface, humidity float64
	vapour                 float64 // pressure of the water in the air
	depression             float64 // of the wet bulb below the air, K; 0 where no film feels it
	film                   float64 // the wet film while it is cooled by what leaves it
	speed                  float64 // m/s, not below that of still room air
}

// stillAir is the air speed of a room with nothing moving, m/s, at which
// labels are taken to hold.
const stillAir = 0.1

// newMoist takes conditions that Check accepts. The film shows the share wet
// of the air's wet-bulb depression: 0 for a film at its surface's temperature.
func newMoist(c Conditions, wet float64) (m moist) {
	m.take(&c, wet)
	return m
}

func (m *moist) take(c *Conditions, wet float64) {
	m.air, m.surface, m.humidity = float64(c.Air), float64(c.Surface), float64(c.Humidity)
	m.vapour = float64(air.VapourPressure(c.Air, c.Humidity))
	m.speed = max(float64(c.AirSpeed), stillAir)
	if m.depression = 0; wet > 0 {
		m.depression = float64(c.Air - air.WetBulb(c.Air, c.Humidity, c.Pressure))
	}
	m.film = m.surface - wet*m.depression
}

// dew is the dew point, which not every use needs.
func (m *moist) dew() float64 { return float64(air.DewPointOf(sensors.Pascals(m.vapour))) }

// atSurface is the relative humidity where the air touches the surface, %.
func (m *moist) atSurface() float64 {
	return float64(air.HumidityAtSurface(sensors.Pascals(m.vapour), sensors.Celsius(m.surface)))
}
