package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// unit turns a written number x into (x - zero) * scale.
type unit struct {
	name        string
	scale, zero float64
}

// measure is one kind of quantity: how it is written and between which bounds.
type measure struct {
	noun, example   string
	lowest, highest string
	min, max        float64
	units           []unit
}

func (m measure) parse(s string) (float64, error) {
	digits, name := split(s)
	x, ok := plain(digits)
	switch {
	case strings.Contains(s, ","):
		return 0, m.refuse(s, "has a comma")
	case !ok:
		return 0, m.refuse(s, "is not "+m.noun)
	}
	u, ok := m.unit(name)
	switch {
	case !ok && name == "":
		return 0, m.refuse(s, "has no unit")
	case !ok:
		return 0, m.refuse(s, fmt.Sprintf("has the unit %s, which is none for %s", Quote(name), m.noun))
	}
	v := round((x - u.zero) * u.scale)
	if v < m.min || v > m.max {
		return 0, fmt.Errorf("%s is out of range: %s lies between %s and %s", Quote(s), m.noun, m.lowest, m.highest)
	}
	return v, nil
}

func (m measure) refuse(s, why string) error {
	return fmt.Errorf("%s %s: write %s such as %s", Quote(s), why, m.noun, m.example)
}

// unit finds a unit by its name. Capitals do not matter: no two units of one
// measure differ in them alone.
func (m measure) unit(name string) (unit, bool) {
	for _, u := range m.units {
		if strings.EqualFold(u.name, name) {
			return u, true
		}
	}
	return unit{}, false
}

// split parts "20 °C" into "20" and "°C".
func split(s string) (digits, name string) {
	s = strings.TrimSpace(s)
	end := strings.IndexFunc(s, func(r rune) bool { return !strings.ContainsRune("+-.0123456789", r) })
	if end < 0 {
		return s, ""
	}
	return s[:end], strings.TrimSpace(s[end:])
}

// longest is how many characters a written number may have.
const longest = 32

// plain reads digits with a sign and a decimal point, and nothing else.
func plain(digits string) (float64, bool) {
	if len(digits) > longest {
		return 0, false
	}
	x, err := strconv.ParseFloat(digits, 64)
	return x, err == nil
}

// round keeps nine decimals, finer than anything measured here, so that what
// is written back is short and is read as the same value.
func round(v float64) float64 {
	const steps = 1e9
	return math.Round(v*steps)/steps + 0 // + 0 turns -0 into 0
}

func number(v float64) string { return strconv.FormatFloat(round(v), 'f', -1, 64) }

// Quote returns s in quotation marks for a message, cut where it is long.
func Quote(s string) string {
	const shown = 40
	runes := 0
	for i := range s {
		if runes == shown {
			return strconv.Quote(s[:i]) + "…"
		}
		runes++
	}
	return strconv.Quote(s)
}
