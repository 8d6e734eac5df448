package main

import (
	"encoding/json"
	"io"
	"math"
	"time"

	"recoat/drying"
	"recoat/internal/quantity"
	"recoat/sensors"
)

// The types of flags: each takes a value with its unit.
type (
	temperatureFlag sensors.Celsius
	humidityFlag    sensors.RelativeHumidity
	pressureFlag    sensors.Pascals
	speedFlag       sensors.MetresPerSecond
	filmFlag        drying.Microns
	timeFlag        time.Time
)

func (f *temperatureFlag) UnmarshalText(text []byte) error {
	v, err := quantity.ParseTemperature(string(text))
	*f = temperatureFlag(v)
	return err
}

func (f *humidityFlag) UnmarshalText(text []byte) error {
	v, err := quantity.ParseHumidity(string(text))
	*f = humidityFlag(v)
	return err
}

func (f *pressureFlag) UnmarshalText(text []byte) error {
	v, err := quantity.ParsePressure(string(text))
	*f = pressureFlag(v)
	return err
}

func (f *speedFlag) UnmarshalText(text []byte) error {
	v, err := quantity.ParseSpeed(string(text))
	*f = speedFlag(v)
	return err
}

func (f *filmFlag) UnmarshalText(text []byte) error {
	v, err := quantity.ParseFilm(string(text))
	*f = filmFlag(v)
	return err
}

func (f *timeFlag) UnmarshalText(text []byte) error {
	v, err := quantity.ParseTime(string(text), time.Local)
	*f = timeFlag(v)
	return err
}

// writeJSON writes v as one indented document.
func writeJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(v)
}

// places rounds v to so many decimals, as numbers for people and machines are
// shown; a value that does not exist becomes null.
func places(v float64, decimals int) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	shift := math.Pow10(decimals)
	r := math.Round(v*shift) / shift
	return &r
}

// minutes shows a duration in minutes, null where there is none.
func minutes(d time.Duration) *float64 {
	if d == 0 {
		return nil
	}
	return places(d.Minutes(), 1)
}

// safety stands under every time that is given.
const safety = "Times are estimates. The label and local rules come first; touch decides."

// number is a flag for a number as the number that it stands for, nil where it
// was left out.
func number[T, F ~float64](flag *F) *T {
	if flag == nil {
		return nil
	}
	v := T(*flag)
	return &v
}

// word is number for a flag that is a text.
func word[T, F ~string](flag *F) *T {
	if flag == nil {
		return nil
	}
	v := T(*flag)
	return &v
}

// moment is number for a flag that is a time.
func moment(flag *timeFlag) *time.Time {
	if flag == nil {
		return nil
	}
	v := time.Time(*flag)
	return &v
}
