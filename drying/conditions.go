package drying

import (
	"errors"
	"fmt"
	"math"
	"time"

	"recoat/drying/air"
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
// was held against, and a sentence for a person. Value and Limit are always
// finite.
//
// The codes of limits are "air-cold", "air-hot", "surface-cold", "surface-hot",
// "dew-margin", "humid", "surface-humid", "dry", "film-cold", "blush" and
// "saturated"; a Finding adds "condensation". Without a value to judge it is
// "no-readings", "humidity-zero", "humidity-stuck", "surface-range",
// "air-speed-range", "unknown" (any other value that cannot be computed with),
// "product" or "limits"; a stage too far off is "slow". What makes an estimate
// doubtful is a "gap" or "out-of-order".
type Reason struct {
	Code  string    `json:"code"`
	Value float64   `json:"value"`
	Limit float64   `json:"limit"`
	Unit  string    `json:"unit"` // "Cel", "%RH", "K", "m/s", "min"
	Text  string    `json:"text"`
	Since time.Time `json:"since,omitzero"` // the minute in which it began, where that is known
}

// maxAirSpeed is a breeze that no drying room has; beyond it a reading is a
// fault.
const maxAirSpeed sensors.MetresPerSecond = 20

// Check returns why nothing can be computed from the conditions, or nil.
func (c Conditions) Check() error {
	if err := air.Check(c.Air, c.Humidity, c.Pressure); err != nil {
		return err
	}
	if c.Humidity == 0 {
		return fault{"humidity-zero", air.ErrNoDewPoint.Error()}
	}
	if !(c.Surface >= air.MinAir && c.Surface <= air.MaxAir) {
		return fault{"surface-range", fmt.Sprintf("surface temperature is %v °C: %v to %v °C can be reckoned with", c.Surface, air.MinAir, air.MaxAir)}
	}
	if !(c.AirSpeed >= 0 && c.AirSpeed <= maxAirSpeed) {
		return fault{"air-speed-range", fmt.Sprintf("air speed is %v m/s: 0 to %v m/s can be reckoned with", c.AirSpeed, maxAirSpeed)}
	}
	return nil
}

// Uncertainty holds the standard uncertainties of what was measured. A field
// that is zero or no number takes the value of TypicalUncertainty.
type Uncertainty struct {
	Air, Surface sensors.Kelvins
	Humidity     sensors.RelativeHumidity
}

// TypicalUncertainty is that of the usual small sensors, checked but not
// calibrated: common practice, no source.
func TypicalUncertainty() Uncertainty { return Uncertainty{Air: 0.3, Surface: 0.5, Humidity: 2} }

// unmeasuredSurface is added to the surface's uncertainty where no probe is on
// the piece: judgement, for a piece that has been in the room for hours.
const unmeasuredSurface sensors.Kelvins = 1

// forConditions fills what is not given and allows for a surface without a
// probe.
func (u Uncertainty) forConditions(c Conditions) Uncertainty {
	typical := TypicalUncertainty()
	if !(u.Air > 0) {
		u.Air = typical.Air
	}
	if !(u.Surface > 0) {
		u.Surface = typical.Surface
	}
	if !(u.Humidity > 0) {
		u.Humidity = typical.Humidity
	}
	if !c.SurfaceMeasured {
		u.Surface = sensors.Kelvins(math.Hypot(float64(u.Surface), float64(unmeasuredSurface)))
	}
	return u
}

// fault is why conditions are unknown.
type fault struct{ code, text string }

func (f fault) Error() string { return f.text }

var (
	errNoReadings = fault{"no-readings", "there are no readings: nothing is known of the room"}
	errStuck      = fault{"humidity-stuck", "humidity has read exactly 100 % for more than an hour: the sensor is wet or at its stop, and says nothing of the room"}
)

// unknownReason says why nothing can be said of the conditions.
func unknownReason(err error) Reason {
	r := Reason{Code: "unknown", Text: err.Error()}
	var f fault
	if errors.As(err, &f) {
		r.Code = f.code
	}
	return r
}
