package drying

import (
	"slices"
	"time"

	"recoat/sensors"
)

// Microns is a film thickness in micrometres.
type Microns float64

// Family is how a finish dries.
type Family string

// The families.
const (
	Waterborne     Family = "waterborne"      // water leaves, particles flow together
	Solvent        Family = "solvent"         // solvent leaves, nothing else happens
	Oxidising      Family = "oxidising"       // solvent leaves, then oxygen cross-links
	TwoPart        Family = "two-part"        // two components react
	MoistureCuring Family = "moisture-curing" // reacts with water from the air
)

// Product is a finish as its label states it.
type Product struct {
	Name   string
	Family Family
	Kind   string // within the family, such as "acrylic" or "shellac"
	// Class is what the coat is to one above or below it, where the family and
	// kind do not tell, such as "oil-stain". Drying does not look at it.
	Class  string
	Stated Stated
	// Further are the label's times at further conditions. A stage among them
	// must be stated at the first ones too.
	Further []Further
	Limits  Limits
	// Given holds the label keys that the label gives. It is needed only for
	// those whose value is zero ("limits.air_min" of 0 °C): a zero that is not
	// in it counts as not given.
	Given []string
	// Assumed holds the label keys ("stated.film", "limits.rh_max") that the
	// label does not give and that Complete took from the kind's defaults.
	Assumed []string
}

// Stated is what the label says of times, and at which conditions.
type Stated struct {
	Air      sensors.Celsius
	Humidity sensors.RelativeHumidity
	Film     Microns                   // wet film at which the times hold
	Times    [StageCount]time.Duration // 0: not stated
	RecoatBy time.Duration             // later than this: abrade first; 0: no such limit
}

// Limits are the conditions outside which the label forbids coating, or a film
// does not form. Where a limit may be absent, its Has flag or zero says so.
type Limits struct {
	AirMin, AirMax sensors.Celsius
	HumidityMin    sensors.RelativeHumidity // 0: no floor
	HumidityMax    sensors.RelativeHumidity
	DewMarginMin   sensors.Kelvins // surface above dew point
	AirMarginMin   sensors.Kelvins // air above dew point, against blush; 0: none
	FilmFormsAbove sensors.Celsius // film temperature
	HasFilmForms   bool            // false for finishes that do not coalesce
}

// IsAssumed reports whether a label key was filled from the kind's defaults.
func (p Product) IsAssumed(key string) bool { return slices.Contains(p.Assumed, key) }
