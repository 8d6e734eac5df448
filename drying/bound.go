package drying

import (
	"fmt"
	"math"

	"recoat/drying/air"
	"recoat/sensors"
)

// bound is one limit that conditions are held against.
type bound struct {
	code  string
	noun  string // begins a sentence
	unit  string
	key   string // of the label; empty where the limit is not from one
	limit float64
	floor bool    // a value below the limit breaks it; else one above
	band  float64 // a value no further than this inside the limit is doubtful
	idle  bool    // does not stop the clock: it spoils the film, not the time
	value func(*moist) float64
	// warm is set where the value is how far a temperature is above the dew
	// point, and gives that temperature.
	warm  func(*moist) float64
	sigma func(*moist, Uncertainty) float64 // standard uncertainty of value
}

// margin is how far a value is inside the limit; negative outside.
func (b *bound) margin(v float64) float64 {
	if b.floor {
		return v - b.limit
	}
	return b.limit - v
}

// broken reports whether the conditions are outside the limit. A margin above
// the dew point is held against its limit as vapour pressures, which spares
// the dew point itself.
func (b *bound) broken(m *moist) bool {
	if b.warm == nil {
		return !(b.margin(b.value(m)) >= 0)
	}
	const even = 1e-9 // so that a limit which is just kept is not broken by rounding
	most := float64(air.SaturationPressure(sensors.Celsius(b.warm(m) - b.limit)))
	return !(m.vapour <= most*(1+even))
}

// aboveDew makes a bound one of how far a temperature is above the dew point.
func (b bound) aboveDew(warm func(*moist) float64) bound {
	b.unit, b.floor, b.warm = "K", true, warm
	b.value = func(m *moist) float64 { return warm(m) - m.dew() }
	return b
}

// reason says how the conditions stand against the limit, with the value's
// uncertainty where that is known (above zero).
func (b *bound) reason(m *moist, sigma float64, assumed bool) Reason {
	v := b.value(m)
	text := fmt.Sprintf("%s is %s", b.noun, b.show(v))
	if sigma > 0 {
		text += fmt.Sprintf(" ± %.1f", coverage*sigma)
	}
	if b.floor {
		text += fmt.Sprintf("; at least %s is needed", b.show(b.limit))
	} else {
		text += fmt.Sprintf("; at most %s is allowed", b.show(b.limit))
	}
	if assumed {
		text += " (assumed: the label does not say)"
	}
	return Reason{Code: b.code, Value: v, Limit: b.limit, Unit: b.unit, Text: text}
}

// addReason leaves out a reason that would only repeat another: a surface as
// warm as the air is held against the same limit.
func addReason(all []Reason, r Reason) []Reason {
	for _, o := range all {
		if o.Limit == r.Limit && o.Unit == r.Unit && math.Abs(o.Value-r.Value) < 1e-9 {
			return all
		}
	}
	return append(all, r)
}

var shownUnits = map[string]string{"Cel": "°C", "%RH": "%", "K": "K"}

func (b *bound) show(v float64) string { return fmt.Sprintf("%.1f %s", v, shownUnits[b.unit]) }

// bands in which a room is doubtful though inside its limits: common practice,
// no source.
const (
	temperatureBand = 2 // K
	roomBand        = 5 // %, where no product says otherwise
)

// boundsOf returns the bounds that the limits make, and for a wet film that
// evaporation cools, that it must be able to lose water.
func boundsOf(l Limits, humidityBand float64, wet bool) []bound {
	bounds := append(temperatureBounds(l), humidityBounds(l, humidityBand)...)
	if l.HasFilmForms {
		bounds = append(bounds, bound{code: "film-cold", noun: "The wet film", unit: "Cel", key: "limits.film_forms_above",
			limit: float64(l.FilmFormsAbove), floor: true, band: 1, value: filmOf, sigma: surfaceSigma})
	}
	if l.AirMarginMin > 0 {
		bounds = append(bounds, bound{code: "blush", noun: "The air's margin above its dew point", key: "limits.air_dew_min",
			limit: float64(l.AirMarginMin), band: temperatureBand, idle: true, sigma: airMarginSigma}.aboveDew(airOf))
	}
	if wet {
		bounds = append(bounds, bound{code: "saturated", noun: "The wet film's margin above the dew point",
			limit: saturatedMargin, sigma: dewMarginSigma}.aboveDew(filmOf))
	}
	return bounds
}

// saturatedMargin is how far a film must be above the dew point for the air to
// take up its water at a rate worth counting, K.
const saturatedMargin = 0.1

func temperatureBounds(l Limits) []bound {
	low := bound{unit: "Cel", key: "limits.air_min", limit: float64(l.AirMin), floor: true, band: temperatureBand}
	high := bound{unit: "Cel", key: "limits.air_max", limit: float64(l.AirMax), band: temperatureBand}
	ofAir := func(b bound, code string) bound {
		b.code, b.noun, b.value, b.sigma = code, "The air", airOf, airSigma
		return b
	}
	ofSurface := func(b bound, code string) bound {
		b.code, b.noun, b.value, b.sigma = code, "The surface", surfaceOf, surfaceSigma
		return b
	}
	return []bound{
		ofAir(low, "air-cold"), ofAir(high, "air-hot"),
		ofSurface(low, "surface-cold"), ofSurface(high, "surface-hot"),
	}
}

func humidityBounds(l Limits, band float64) []bound {
	bounds := []bound{
		bound{code: "dew-margin", noun: "The dew margin", key: "limits.dew_margin_min",
			limit: float64(l.DewMarginMin), sigma: dewMarginSigma}.aboveDew(surfaceOf),
		{code: "humid", noun: "Relative humidity", unit: "%RH", key: "limits.rh_max",
			limit: float64(l.HumidityMax), band: band, value: humidityOf, sigma: humiditySigma},
		{code: "surface-humid", noun: "Relative humidity at the surface", unit: "%RH", key: "limits.rh_max",
			limit: float64(l.HumidityMax), band: band, value: (*moist).atSurface, sigma: atSurfaceSigma},
	}
	if l.HumidityMin > 0 {
		bounds = append(bounds, bound{code: "dry", noun: "Relative humidity", unit: "%RH", key: "limits.rh_min",
			limit: float64(l.HumidityMin), floor: true, band: band, value: humidityOf, sigma: humiditySigma})
	}
	return bounds
}

func airOf(m *moist) float64      { return m.air }
func surfaceOf(m *moist) float64  { return m.surface }
func filmOf(m *moist) float64     { return m.film }
func humidityOf(m *moist) float64 { return m.humidity }

func airSigma(_ *moist, u Uncertainty) float64      { return float64(u.Air) }
func surfaceSigma(_ *moist, u Uncertainty) float64  { return float64(u.Surface) }
func humiditySigma(_ *moist, u Uncertainty) float64 { return float64(u.Humidity) }

func dewSigma(m *moist, u Uncertainty) float64 {
	return float64(air.DewPointSigma(sensors.Celsius(m.air), sensors.RelativeHumidity(m.humidity), u.Air, u.Humidity))
}

func dewMarginSigma(m *moist, u Uncertainty) float64 {
	return math.Hypot(dewSigma(m, u), float64(u.Surface))
}

// airMarginSigma leaves out that one air temperature is in both terms, which
// would nearly cancel: only the humidity counts.
func airMarginSigma(m *moist, u Uncertainty) float64 {
	u.Air = 0
	return dewSigma(m, u)
}

// atSurfaceSigma turns the uncertainty of the dew margin into one of relative
// humidity, at its slope there.
func atSurfaceSigma(m *moist, u Uncertainty) float64 {
	warmer := *m
	warmer.surface++
	return (m.atSurface() - warmer.atSurface()) * dewMarginSigma(m, u)
}
