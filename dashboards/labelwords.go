package dashboards

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"recoat/drying"
	"recoat/sensors"
)

// figure is one figure of a label with the unit it is best told in.
type figure struct {
	Value, Unit string // as the form takes them
}

// figureOf returns what a product says under a key; ok is false where it says
// nothing.
func (w words) figureOf(p drying.Product, key string) (f figure, ok bool) {
	for _, s := range drying.Stages() {
		if s.LabelKey() == key {
			return spanFigure(p.Stated.Times[s]), p.Stated.Times[s] > 0
		}
	}
	l := p.Limits
	switch key {
	case "stated.air":
		return w.temperatureFigure(p.Stated.Air), true
	case "stated.rh":
		return humidityFigure(p.Stated.Humidity), true
	case "stated.film":
		return w.filmFigure(p.Stated.Film), p.Stated.Film > 0
	case "stated.recoat_by":
		return spanFigure(p.Stated.RecoatBy), p.Stated.RecoatBy > 0
	case "limits.air_min":
		return w.temperatureFigure(l.AirMin), true
	case "limits.air_max":
		return w.temperatureFigure(l.AirMax), true
	case "limits.rh_min":
		return humidityFigure(l.HumidityMin), l.HumidityMin > 0
	case "limits.rh_max":
		return humidityFigure(l.HumidityMax), true
	case "limits.dew_margin_min":
		return w.differenceFigure(l.DewMarginMin), true
	case "limits.air_dew_min":
		return w.differenceFigure(l.AirMarginMin), l.AirMarginMin > 0
	case "limits.film_forms_above":
		return w.temperatureFigure(l.FilmFormsAbove), l.HasFilmForms
	}
	return figure{}, false
}

// Words is the figure with its unit, as a label says it.
func (f figure) Words() string {
	unit := map[string]string{"C": "°C", "F": "°F", "K": "K", "um": "µm", "m": "min", "h": "h", "d": "days"}[f.Unit]
	switch {
	case unit == "":
		unit = f.Unit
	case f.Unit == "d" && f.Value == "1":
		unit = "day"
	}
	return strings.Replace(f.Value, "-", "−", 1) + " " + unit
}

func (w words) temperatureFigure(t sensors.Celsius) figure {
	if w.fahrenheit {
		return figure{shortest(t.Fahrenheit(), 1), "F"}
	}
	return figure{shortest(float64(t), 1), "C"}
}

func (w words) differenceFigure(d sensors.Kelvins) figure {
	if w.fahrenheit {
		return figure{shortest(float64(d)*9/5, 1), "F"}
	}
	return figure{shortest(float64(d), 1), "K"}
}

func humidityFigure(h sensors.RelativeHumidity) figure { return figure{shortest(float64(h), 1), "%"} }

// micronsPerMil: the inch is 25.4 mm exactly (NIST SP 811, appendix B).
const micronsPerMil = 25.4

func (w words) filmFigure(f drying.Microns) figure {
	if w.fahrenheit {
		return figure{shortest(float64(f)/micronsPerMil, 2), "mil"}
	}
	return figure{shortest(float64(f), 1), "um"}
}

// spanFigure tells a time in the largest unit that tells it whole.
func spanFigure(d time.Duration) figure {
	const day = 24 * time.Hour
	switch {
	case d > 0 && d%day == 0:
		return figure{fmt.Sprint(int64(d / day)), "d"}
	case d > 0 && d%time.Hour == 0:
		return figure{fmt.Sprint(int64(d / time.Hour)), "h"}
	case d >= time.Hour && d%(30*time.Minute) == 0:
		return figure{shortest(d.Hours(), 1), "h"}
	}
	return figure{shortest(d.Minutes(), 1), "m"}
}

// shortest is v with at most so many decimals, and none that say nothing.
func shortest(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		return "0"
	}
	return s
}
