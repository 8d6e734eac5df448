package shop

import (
	"strings"
	"time"

	"recoat/drying"
	"recoat/internal/quantity"
	"recoat/internal/shop/compat"
	"recoat/sensors"
)

// field is one key of a product file: how its value is taken into a product,
// and how it is written.
type field struct {
	key     string // with its table, such as "stated.air"
	example string // of a key that every label must give; empty: it may be left out
	set     func(*drying.Product, string) error
	rows    func(*drying.Product, []any) error // of a key that takes a list of tables, instead of set
	write   func(*drying.Product) string
	absent  func(*drying.Product) bool // what would be written stands for nothing
}

// fields are the keys of a product file, in the order in which they are
// written.
var fields = []field{
	required(`name = "…"`, text("name", func(p *drying.Product) *string { return &p.Name })),
	required(`family = "waterborne"`, text("family", func(p *drying.Product) *drying.Family { return &p.Family })),
	text("kind", func(p *drying.Product) *string { return &p.Kind }),
	class(),

	required(`air = "23C"`, always("stated.air", airOf, temperature)),
	required(`rh = 50`, always("stated.rh", humidityOf, humidity)),
	unlessZero("stated.film", func(p *drying.Product) *drying.Microns { return &p.Stated.Film }, wetFilm),
	stage(drying.SetToTouch),
	stage(drying.DustFree),
	stage(drying.TackFree),
	stage(drying.Sandable),
	required(`recoat = "4h"`, stage(drying.DryToRecoat)), // guessed from the other times it can be days out
	unlessZero("stated.recoat_by", func(p *drying.Product) *time.Duration { return &p.Stated.RecoatBy }, duration),
	stage(drying.Handle),
	stage(drying.Cured),
	further(),

	always("limits.air_min", func(p *drying.Product) *sensors.Celsius { return &p.Limits.AirMin }, temperature),
	always("limits.air_max", func(p *drying.Product) *sensors.Celsius { return &p.Limits.AirMax }, temperature),
	unlessZero("limits.rh_min", func(p *drying.Product) *sensors.RelativeHumidity { return &p.Limits.HumidityMin }, humidity),
	always("limits.rh_max", func(p *drying.Product) *sensors.RelativeHumidity { return &p.Limits.HumidityMax }, humidity),
	always("limits.dew_margin_min", func(p *drying.Product) *sensors.Kelvins { return &p.Limits.DewMarginMin }, difference),
	unlessZero("limits.air_dew_min", func(p *drying.Product) *sensors.Kelvins { return &p.Limits.AirMarginMin }, difference),
	filmForms(),
}

func airOf(p *drying.Product) *sensors.Celsius               { return &p.Stated.Air }
func humidityOf(p *drying.Product) *sensors.RelativeHumidity { return &p.Stated.Humidity }

// form is how values of one type are read and written in a product file.
type form[T any] struct {
	parse func(string) (T, error)
	write func(T) string
}

var (
	temperature = form[sensors.Celsius]{quantity.ParseTemperature, func(v sensors.Celsius) string { return quoted(quantity.FormatTemperature(v)) }}
	difference  = form[sensors.Kelvins]{quantity.ParseDifference, func(v sensors.Kelvins) string { return quoted(quantity.FormatDifference(v)) }}
	wetFilm     = form[drying.Microns]{quantity.ParseFilm, func(v drying.Microns) string { return quoted(quantity.FormatFilm(v)) }}
	duration    = form[time.Duration]{quantity.ParseDuration, func(v time.Duration) string { return quoted(quantity.FormatDuration(v)) }}
	humidity    = form[sensors.RelativeHumidity]{quantity.ParseHumidity, func(v sensors.RelativeHumidity) string {
		return strings.TrimSuffix(quantity.FormatHumidity(v), "%")
	}}
)

func required(example string, f field) field {
	f.example = example
	return f
}

func always[T any](key string, at func(*drying.Product) *T, as form[T]) field {
	return field{
		key: key,
		set: func(p *drying.Product, s string) (err error) {
			*at(p), err = as.parse(s)
			return err
		},
		write:  func(p *drying.Product) string { return as.write(*at(p)) },
		absent: func(*drying.Product) bool { return false },
	}
}

func unlessZero[T comparable](key string, at func(*drying.Product) *T, as form[T]) field {
	f := always(key, at, as)
	f.absent = func(p *drying.Product) bool {
		var zero T
		return *at(p) == zero
	}
	return f
}

func stage(s drying.Stage) field {
	return unlessZero(s.LabelKey(), func(p *drying.Product) *time.Duration { return &p.Stated.Times[s] }, duration)
}

func text[T ~string](key string, at func(*drying.Product) *T) field {
	return unlessZero(key, at, form[T]{
		parse: func(s string) (T, error) {
			s, err := cleanName("it", s)
			return T(s), err
		},
		write: func(v T) string { return quoted(string(v)) },
	})
}

// class is what the coat is to one over or under it.
func class() field {
	f := text("class", func(p *drying.Product) *string { return &p.Class })
	set := f.set
	f.set = func(p *drying.Product, s string) error {
		if _, err := compat.ParseClass(s); err != nil {
			return err
		}
		return set(p, s)
	}
	return f
}

func filmForms() field {
	f := always("limits.film_forms_above", func(p *drying.Product) *sensors.Celsius { return &p.Limits.FilmFormsAbove }, temperature)
	set := f.set
	f.set = func(p *drying.Product, s string) error {
		p.Limits.HasFilmForms = true
		return set(p, s)
	}
	f.absent = func(p *drying.Product) bool { return !p.Limits.HasFilmForms }
	return f
}

// quoted returns s, which holds no control character, as a TOML string.
func quoted(s string) string {
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(s) + `"`
}
