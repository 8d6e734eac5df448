package audit

import (
	"strings"
	"time"

	"recoat/drying"
	"recoat/drying/wood"
)

// quantity is what a clue asks of a record.
type quantity int

// The quantities. From film on they come from the journal, or are reckoned.
const (
	airMargin quantity = iota // air above its dew point
	dewMargin                 // surface above the dew point
	humid
	surface // its temperature
	rise    // how far the surface warmed
	air
	speed
	film         // as a share of the label's
	recoated     // time since the coat below, as a share of what that needed
	late         // time since the coat below, as a share of its recoat window
	woodMoisture // moisture of the wood
	tackTime     // until the tack went
	swing        // of the moisture that wood tends to
	washed       // the surface was wetted on the day before
)

var quantityWords = [...]struct{ noun, unit string }{
	{"air above its dew point", "K"}, {"surface above the dew point", "K"}, {"relative humidity", "%RH"}, {"surface temperature", "Cel"},
	{"surface warming by", "K"}, {"air temperature", "Cel"}, {"air speed", "m/s"}, {"film, as a share of the label's,", "x"},
	{"time since the coat below, as a share of what it needed,", "x"}, {"time since the coat below, as a share of its recoat window,", "x"},
	{"moisture of the wood", "%"}, {"time until the tack went", "h"}, {"daily means of the moisture that wood tends to, swing", "%"}, {"surface wetted on the day before", ""},
}

func (q quantity) unit() string { return quantityWords[q].unit }

// clue is one thing that would speak for a cause, or against it.
type clue struct {
	window string
	what   quantity
	above  bool // than limit; else below
	limit  float64
	pro    bool
	// instead says that it is asked only where the clue before it has no value.
	instead bool
}

// says puts the clue into words.
func (c clue) says() string {
	if c.what == washed {
		return quantityWords[washed].noun
	}
	words := quantityWords[c.what].noun + " below "
	if c.above {
		words = quantityWords[c.what].noun + " above "
	}
	words += Figure(c.limit).String()
	if u := c.what.unit(); u != "x" {
		words += " " + shown(u)
	}
	if !c.pro {
		words += " throughout"
	}
	return strings.ReplaceAll(words, ", below", " below")
}

// shown writes a unit for a person.
func shown(unit string) string {
	switch unit {
	case "Cel":
		return "°C"
	case "%RH":
		return "%"
	case "um":
		return "µm"
	case "x":
		return "times"
	}
	return unit
}

// cause is one possible reason for a defect. Without clues the record of a room
// cannot tell.
type cause struct {
	text  string
	clues []clue
}

// Kind is a defect that a finisher sees.
type Kind struct {
	Code   string
	Title  string
	Remedy string
	Source string
	// Seldom says that conditions seldom explain it, which comes first.
	Seldom bool
	causes []cause // the likeliest first
}

// The spellings of clues: above or below a limit, for or against.
func over(window string, q quantity, limit float64) clue {
	return clue{window: window, what: q, above: true, limit: limit, pro: true}
}
func under(window string, q quantity, limit float64) clue {
	return clue{window: window, what: q, limit: limit, pro: true}
}
func keptOver(window string, q quantity, limit float64) clue {
	return clue{window: window, what: q, above: true, limit: limit}
}
func keptUnder(window string, q quantity, limit float64) clue {
	return clue{window: window, what: q, limit: limit}
}

func instead(c clue) clue {
	c.instead = true
	return c
}

// wets reports whether a step brings water to the wood, by its words.
func (s Step) wets() bool {
	words := strings.ToLower(s.Title)
	for _, w := range []string{"wash", "wet", "strip", "rinse", "water"} {
		if strings.Contains(words, w) {
			return true
		}
	}
	return false
}

// dailySwing is the greatest less the least daily mean of the moisture that
// wood tends to.
func (q *inquiry) dailySwing(span drying.Interval) float64 {
	sums, counts := map[int64]float64{}, map[int64]float64{}
	for i := range q.Samples {
		s := &q.Samples[i]
		if s.At.Before(span.From) || !s.At.Before(span.To) || s.Check() != nil {
			continue
		}
		day := s.At.Unix() / int64((24 * time.Hour).Seconds())
		sums[day] += wood.EMC(s.Air, s.Humidity)
		counts[day]++
	}
	least, most, first := 0.0, 0.0, true
	for day, sum := range sums {
		mean := sum / counts[day]
		if first || mean < least {
			least = mean
		}
		if first || mean > most {
			most = mean
		}
		first = false
	}
	return most - least
}
