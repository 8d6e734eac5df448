package simroom

import (
	"math"
	"math/rand/v2"
	"time"

	"recoat/drying/air"
	"recoat/sensors"
)

// AirSensor says how far an air chip falls short of the truth. The zero value
// is a perfect one.
type AirSensor struct {
	TemperatureNoise  sensors.Kelvins          // standard deviation of one reading
	HumidityNoise     sensors.RelativeHumidity // the same
	TemperatureOffset sensors.Kelvins
	HumidityOffset    sensors.RelativeHumidity
	SelfHeating       sensors.Kelvins // of the board: the chip is so much warmer than the air, and its humidity is that of the air at the chip
	TemperatureLag    time.Duration   // to 63 % of a step
	HumidityLag       time.Duration
	PressureNoise     sensors.Pascals
}

// ProbeSensor says how far a surface probe falls short of the truth.
type ProbeSensor struct {
	Noise  sensors.Kelvins
	Offset sensors.Kelvins
	Lag    time.Duration // to 63 % of a step
}

// TypicalAirSensor is of the order of a small combined chip on a small board
// (the data sheet of one such gives 1 s of lag at 1 m/s and 3 % of tolerance;
// the lag in still air, the noise and the heat of the board are assumptions).
func TypicalAirSensor() AirSensor {
	return AirSensor{
		TemperatureNoise: 0.01, HumidityNoise: 0.04, PressureNoise: 1,
		TemperatureOffset: 0.1, HumidityOffset: -0.8, SelfHeating: 0.6,
		TemperatureLag: 90 * time.Second, HumidityLag: 10 * time.Second,
	}
}

// TypicalProbe is a digital probe taped to a face (the lag is an assumption).
func TypicalProbe() ProbeSensor {
	return ProbeSensor{Noise: 0.03, Offset: -0.1, Lag: 30 * time.Second}
}

// lag is a first-order response; the first value passes at once.
type lag struct {
	value float64
	begun bool
}

func (l *lag) follow(goal float64, dt, constant time.Duration) float64 {
	if !l.begun || constant <= 0 {
		l.value, l.begun = goal, true
		return goal
	}
	l.value += (goal - l.value) * -math.Expm1(-float64(dt)/float64(constant))
	return l.value
}

// airView is what an air chip makes of the room.
type airView struct {
	sensor                AirSensor
	rng                   *rand.Rand
	temperature, humidity lag
}

func (v *airView) see(r *Room, dt time.Duration) (sensors.Celsius, sensors.RelativeHumidity, sensors.Pascals) {
	s := v.sensor
	chip := sensors.Celsius(v.temperature.follow(float64(r.temperature.Add(s.SelfHeating)), dt, s.TemperatureLag))
	atChip := air.HumidityAtSurface(r.vapourPressure(), chip)
	humidity := v.humidity.follow(float64(min(atChip, 100)), dt, s.HumidityLag) +
		float64(s.HumidityOffset) + float64(s.HumidityNoise)*v.rng.NormFloat64()
	temperature := chip.Add(s.TemperatureOffset + s.TemperatureNoise*sensors.Kelvins(v.rng.NormFloat64()))
	pressure := r.Pressure() + s.PressureNoise*sensors.Pascals(v.rng.NormFloat64())
	return temperature, sensors.RelativeHumidity(min(max(humidity, 0), 100)), pressure
}

// probeView is what a surface probe makes of a piece.
type probeView struct {
	sensor ProbeSensor
	rng    *rand.Rand
	lag    lag
}

func (v *probeView) see(surface sensors.Celsius, dt time.Duration) sensors.Celsius {
	t := sensors.Celsius(v.lag.follow(float64(surface), dt, v.sensor.Lag))
	return t.Add(v.sensor.Offset + v.sensor.Noise*sensors.Kelvins(v.rng.NormFloat64()))
}
