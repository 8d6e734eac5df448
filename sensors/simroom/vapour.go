package simroom

import (
	"recoat/sensors"
)

const (
	// airDensity is that of dry room air, in kg/m³, near 20 °C at sea level
	// (ideal gas). It is held constant: the mass of air in the room and the
	// mass flow of an air change do not move with temperature.
	airDensity = 1.2
	// airHeat is the specific heat of dry air, in J/(kg·K) (ASHRAE Handbook,
	// Fundamentals 2017, ch. 1, 1.006 kJ/(kg·K)); the 1 % that the vapour adds
	// in a room is left out.
	airHeat = 1006
	// latentHeat is the heat of evaporation of water, in J/kg, near 20 °C
	// (the same chapter: 2501 - 2.326·t kJ/kg gives 2454).
	latentHeat = 2.454e6
	// paneResistance is the inner surface resistance of ISO 6946 for
	// horizontal heat flow, in m²·K/W.
	paneResistance = 0.13
	// maxAirChange, per hour, keeps an air change slow beside the sub-step.
	maxAirChange = 60
)

// ambient is the air as a surface in the room meets it.
type ambient struct {
	temperature sensors.Celsius
	vapour      sensors.Pascals // partial pressure
	speed       sensors.MetresPerSecond
}
