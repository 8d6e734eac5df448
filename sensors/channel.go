package sensors

import (
	"fmt"
	"math"
	"strings"
)

// Quantity is what a channel measures. The quantity fixes the unit.
type Quantity uint8

// The quantities a node can report. The zero Quantity is none of them.
const (
	AirTemperature Quantity = iota + 1
	AirHumidity
	SurfaceTemperature
	AirPressure
	CarbonDioxide
	VOCIndex
	AirSpeed
	SupplyVoltage
	BoardTemperature // of the machine's own processor
	Undervoltage     // 1 while the machine's supply is too low, else 0
)

// quantity holds what is fixed by a Quantity: its name in topics, files and
// messages, its SenML unit (RFC 8428, section 12.1; ppm is of RFC 8798), the
// step in which values
// are kept, and the span outside which no value can be meant.
type quantity struct {
	name     string
	unit     string
	step     float64
	min, max float64
}

var quantities = [...]quantity{
	AirTemperature:     {"air-temperature", "Cel", 0.001, -60, 150},
	AirHumidity:        {"relative-humidity", "%RH", 0.01, 0, 100},
	SurfaceTemperature: {"surface-temperature", "Cel", 0.001, -60, 150},
	AirPressure:        {"pressure", "Pa", 1, 30000, 120000},
	CarbonDioxide:      {"co2", "ppm", 1, 0, 100000},
	VOCIndex:           {"voc-index", "/", 0.001, 0, 1000},
	AirSpeed:           {"air-speed", "m/s", 0.001, 0, 100},
	SupplyVoltage:      {"supply-voltage", "V", 0.001, 0, 100},
	BoardTemperature:   {"board-temperature", "Cel", 0.001, -60, 150},
	Undervoltage:       {"undervoltage", "/", 1, 0, 1},
}

// Quantities returns every quantity, in order.
func Quantities() []Quantity {
	all := make([]Quantity, 0, len(quantities)-1)
	for q := AirTemperature; int(q) < len(quantities); q++ {
		all = append(all, q)
	}
	return all
}

func (q Quantity) valid() bool { return q >= AirTemperature && int(q) < len(quantities) }

// String returns the quantity's name, such as "air-temperature".
func (q Quantity) String() string {
	if !q.valid() {
		return "no quantity"
	}
	return quantities[q].name
}

// Unit returns the SenML unit of the quantity's values, such as "Cel".
func (q Quantity) Unit() string {
	if !q.valid() {
		return ""
	}
	return quantities[q].unit
}

// Step returns the resolution in which values are kept, in the quantity's unit.
func (q Quantity) Step() float64 {
	if !q.valid() {
		return 0
	}
	return quantities[q].step
}

// Possible reports whether v, in the quantity's unit, is a number inside the
// span in which a value can be meant at all. It says nothing of plausibility
// in a workshop.
func (q Quantity) Possible(v float64) bool {
	return q.valid() && IsFinite(v) && v >= quantities[q].min && v <= quantities[q].max
}

// Steps returns v as a whole number of steps, which is how it is stored.
func (q Quantity) Steps(v float64) int64 { return int64(math.Round(v / q.Step())) }

// FromSteps is the inverse of Steps.
func (q Quantity) FromSteps(n int64) float64 {
	// Dividing by a whole number rounds once; multiplying by 0.001 twice.
	return float64(n) / math.Round(1/q.Step())
}

// ParseQuantity finds a quantity by its name.
func ParseQuantity(name string) (Quantity, error) {
	for q := AirTemperature; int(q) < len(quantities); q++ {
		if quantities[q].name == name {
			return q, nil
		}
	}
	return 0, fmt.Errorf("no quantity is called %q", name)
}

// Channel is one quantity of one node. Probe tells two channels of the same
// quantity apart (the ROM code of a surface probe, say); it is empty where a
// node has only one.
type Channel struct {
	Quantity Quantity
	Probe    string
}

// MaxProbe is the longest name of a probe, in bytes.
const MaxProbe = 32

// String returns the channel's name, "relative-humidity" or
// "surface-temperature:28-0316a2791b5f".
func (c Channel) String() string {
	if c.Probe == "" {
		return c.Quantity.String()
	}
	return c.Quantity.String() + ":" + c.Probe
}

// ParseChannel is the inverse of Channel.String. It refuses probes that are
// longer than MaxProbe or hold anything but letters, digits, '-', '.' and '_'.
func ParseChannel(s string) (Channel, error) {
	name, probe, tagged := strings.Cut(s, ":")
	q, err := ParseQuantity(name)
	if err != nil {
		return Channel{}, err
	}
	if tagged && !ValidProbe(probe) {
		return Channel{}, fmt.Errorf("channel %q: a probe is named by 1 to %d letters, digits, '-', '.' or '_'", s, MaxProbe)
	}
	return Channel{Quantity: q, Probe: probe}, nil
}

// ValidProbe reports whether s can name a probe.
func ValidProbe(s string) bool {
	if s == "" || len(s) > MaxProbe {
		return false
	}
	for _, r := range s {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '-', r == '.', r == '_':
		default:
			return false
		}
	}
	return true
}
