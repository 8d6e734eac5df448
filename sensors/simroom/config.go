package simroom

import (
	"time"

	"recoat/drying/wood"
	"recoat/sensors"
)

// Config describes a room, what stands in it, who works in it and the weather
// outside. The zero value of a field switches off what it describes, but for
// Volume, HeatCapacity and the pressure of the climate, which every room has.
type Config struct {
	Name string // a short name, such as "back-room"
	Seed uint64 // of everything drawn by chance; the same seed gives the same room

	// Air and Humidity are the room at the start.
	Air      sensors.Celsius
	Humidity sensors.RelativeHumidity

	Volume       float64 // m³
	HeatCapacity float64 // J/K: air, fittings and the inner layer of the walls
	WallUA       float64 // W/K: walls, floor, roof and door together
	WindowUA     float64 // W/K
	WindowArea   float64 // m² of glass, on which vapour condenses

	AirChange     float64 // per hour, door shut
	DoorAirChange float64 // per hour, door open
	AirSpeed      sensors.MetresPerSecond
	DoorAirSpeed  sensors.MetresPerSecond // while the door is open

	Vapour float64 // kg/h from a damp floor or the like; it brings its latent heat
	Wood   WoodStore
	Heater Heater
	Work   Work

	Climate Climate
	Pieces  []Piece
	Coats   []Coat
}

// WoodStore is the part of the room's wood that trades vapour with the air:
// shelves, benches, stock and the outer layer of pieces. Its moisture content
// runs after the equilibrium of the air.
type WoodStore struct {
	Mass float64       // kg, dry
	Lag  time.Duration // time constant of the exchange
}

// Heater heats the room by a thermostat. Power is in watts; zero is no heater.
type Heater struct {
	Power      float64
	Day        sensors.Celsius // set point between From and Until
	Night      sensors.Celsius // set point outside them
	From       time.Duration   // of the local day; 0 with Until 24 h is day all round
	Until      time.Duration
	Hysteresis sensors.Kelvins // on below the set point less half of it, off above it plus half
	Lag        time.Duration   // the heat follows the thermostat with this time constant, as in a stove
	Attended   bool            // burns only while somebody is there to feed it
}

// Work is when people are in the room and how often they open its door.
type Work struct {
	Days     [7]float64 // chance of a working day, from Sunday on, each 0 to 1
	From     time.Duration
	Until    time.Duration
	Spread   time.Duration // arrival and leaving each vary by up to this, evenly
	Heat     float64       // W, people and lamps, while occupied
	Vapour   float64       // kg/h, while occupied
	Openings float64       // of the door, per hour while occupied
	Open     time.Duration // mean length of an opening, drawn from an exponential law
}

// Climate is the weather outside: a season, a day and slow weather by chance.
type Climate struct {
	Mean        sensors.Celsius // of the year
	Season      sensors.Kelvins // half the difference of the warmest and the coldest day
	ColdestDay  int             // of the year, 1 to 365
	Day         sensors.Kelvins // half the difference of the warmest and coldest hour
	Weather     sensors.Kelvins // standard deviation of the slow weather
	Persistence time.Duration   // how long weather remembers itself
	DewDeficit  sensors.Kelvins // mean of the day's mean temperature less the dew point
	DewWeather  sensors.Kelvins // standard deviation of that deficit
	Pressure    sensors.Pascals
	Barometer   sensors.Pascals // standard deviation of the pressure
}

// Piece is a board-like piece of furniture with both faces in the room's air.
type Piece struct {
	Name  string
	Area  float64 // m² of one face
	Board wood.Board
	Start sensors.Celsius // throughout, when it comes into the room
}

// Coat is a wet coat on one face of a piece.
type Coat struct {
	After time.Duration // since the start of the room
	Piece string
	Water float64 // kg/m²
}
