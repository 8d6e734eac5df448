package compat

import (
	"encoding/json"
	"fmt"
	"strings"
)

// Measures is a set of what to do before, or instead of, putting the layer on.
type Measures uint16

// The measures. OK together with others means: fine, if these are done. Avoid
// together with others means: better not; where it must be, do the others.
const (
	OK Measures = 1 << iota
	Wait
	Clean
	Abrade
	Prime
	Barrier // thin dewaxed shellac or a bonding primer between
	Thin    // a thin first coat
	Patch   // try a small, hidden spot and look at it for some days
	Seal    // a coat over it afterwards
	Strip   // take the lower one off
	Avoid
)

var measureNames = []string{"ok", "wait", "clean", "abrade", "prime", "barrier", "thin", "patch", "seal", "strip", "avoid"}

// Has reports whether every measure of other is in m.
func (m Measures) Has(other Measures) bool { return m&other == other }

// Names returns the measures in m by name, such as "wait".
func (m Measures) Names() []string {
	names := []string{}
	for i, name := range measureNames {
		if m.Has(1 << i) {
			names = append(names, name)
		}
	}
	return names
}

// MarshalJSON writes the names.
func (m Measures) MarshalJSON() ([]byte, error) { return json.Marshal(m.Names()) }

// ParseMeasure returns the measure of that name.
func ParseMeasure(name string) (Measures, error) {
	for i, n := range measureNames {
		if n == name {
			return 1 << i, nil
		}
	}
	return 0, fmt.Errorf("%q is no measure: one of %s would do", name, strings.Join(measureNames, ", "))
}
