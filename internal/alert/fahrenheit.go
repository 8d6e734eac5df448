package alert

import (
	"regexp"
	"strconv"
	"strings"
)

// measured finds a temperature or a difference as our texts write them, with
// what is uncertain of it before or behind the unit.
var measured = regexp.MustCompile(`([-−]?\d+(?:\.\d+)?)( ± \d+(?:\.\d+)?)? (°C|K\b)( ± \d+(?:\.\d+)?)?`)

const perKelvin = 9.0 / 5

// InFahrenheit writes the temperatures of a text in °F, and its differences in
// degrees of that scale. Decimals stay as many as they were.
func InFahrenheit(text string) string {
	return measured.ReplaceAllStringFunc(text, func(found string) string {
		m := measured.FindStringSubmatch(found)
		zero := 32.0
		if m[3] == "K" {
			zero = 0
		}
		return scaled(m[1], zero) + spreadScaled(m[2]) + " °F" + spreadScaled(m[4])
	})
}

func spreadScaled(text string) string {
	number, found := strings.CutPrefix(text, " ± ")
	if !found {
		return ""
	}
	return " ± " + scaled(number, 0)
}

func scaled(number string, zero float64) string {
	v, err := strconv.ParseFloat(strings.Replace(number, "−", "-", 1), 64)
	if err != nil {
		return number // a number too long to be one
	}
	_, decimals, _ := strings.Cut(number, ".")
	return strconv.FormatFloat(v*perKelvin+zero, 'f', len(decimals), 64)
}
