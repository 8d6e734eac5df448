package drying

import (
	"time"

	"recoat/sensors"
)

// Conditions are what the air and the surface do at one instant. Pressure and
// AirSpeed of zero mean unknown: the standard atmosphere and still room air
// stand in.
type Conditions struct {
	Air             sensors.Celsius
	Humidity        sensors.RelativeHumidity
	Surface         sensors.Celsius // equal to Air where nothing is known of it
	SurfaceMeasured bool            // by a probe on the piece
	AirSpeed        sensors.MetresPerSecond
	Pressure        sensors.Pascals
}

// Sample is the conditions from At until the next sample, or for the longest
// gap that is bridged, whichever comes first.
type Sample struct {
	At time.Time
	Conditions
}

// Reason is one finding about conditions: what, the value seen, the limit it
// was held against, and a sentence for a person.
type Reason struct {
	Code  string  `json:"code"` // "dew-margin", "air-cold", "humid", "film-cold", …
	Value float64 `json:"value"`
	Limit float64 `json:"limit"`
	Unit  string  `json:"unit"` // "Cel", "%RH", "K", "m/s", "min"
	Text  string  `json:"text"`
}
