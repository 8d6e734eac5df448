package telemetry

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"recoat/sensors"
)

// decodeForeign makes rounds of a pack that some other device published.
// Records it has no use for (a position, a door switch) are passed over; a
// pack with nothing of use is an error, because somebody meant it to be seen.
func decodeForeign(node string, records []record, received time.Time) ([]sensors.Round, error) {
	byInstant := map[int64]*sensors.Round{}
	for _, r := range records {
		reading, ok, err := foreignReading(r)
		if err != nil {
			return nil, fmt.Errorf("record %q: %w", r.name, err)
		}
		if !ok {
			continue
		}
		at, err := foreignInstant(r.time, received)
		if err != nil {
			return nil, fmt.Errorf("record %q: %w", r.name, err)
		}
		round := byInstant[at.UnixMilli()]
		if round == nil {
			round = &sensors.Round{Node: node, Seq: uint64(at.UnixMilli()), Time: at, ClockSet: true}
			byInstant[at.UnixMilli()] = round
		}
		round.Readings = append(round.Readings, reading)
	}
	if len(byInstant) == 0 {
		return nil, errors.New("no record is of a known quantity: name them air-temperature, relative-humidity, surface-temperature, ... with the unit")
	}
	return inOrder(byInstant)
}

func inOrder(byInstant map[int64]*sensors.Round) ([]sensors.Round, error) {
	rounds := make([]sensors.Round, 0, len(byInstant))
	for _, round := range byInstant {
		if err := checkReadings(round.Readings); err != nil {
			return nil, fmt.Errorf("at %s: %w", round.Time.Format(time.RFC3339), err)
		}
		rounds = append(rounds, *round)
	}
	slices.SortFunc(rounds, func(a, b sensors.Round) int { return a.Time.Compare(b.Time) })
	return rounds, nil
}

func foreignInstant(at float64, received time.Time) (time.Time, error) {
	if at < firstAbsolute {
		at += float64(received.UnixMilli()) / 1000
	}
	if !absolute(at) {
		return time.Time{}, fmt.Errorf("its time comes to %v s, which is no date from 1978-07-05 to 2242", at)
	}
	return instant(at), nil
}

func foreignReading(r record) (reading sensors.Reading, ok bool, err error) {
	if r.value == nil {
		return sensors.Reading{}, false, nil
	}
	if c, ok := namedChannel(r.name); ok {
		if want := c.Quantity.Unit(); r.unit != "" && r.unit != want {
			return sensors.Reading{}, false, fmt.Errorf("the unit is %q, want %q", r.unit, want)
		}
		return sensors.Reading{Channel: c, Value: *r.value}, true, nil
	}
	q, factor := guessQuantity(r.name, r.unit)
	if factor == 0 {
		return sensors.Reading{}, false, nil
	}
	return sensors.Reading{Channel: sensors.Channel{Quantity: q}, Value: *r.value * factor}, true, nil
}

// namedChannel finds a channel that the name spells out: its last level, or
// what follows the last colon of a URN.
func namedChannel(name string) (sensors.Channel, bool) {
	level := name[strings.LastIndexByte(name, '/')+1:]
	if c, err := sensors.ParseChannel(level); err == nil {
		return c, true
	}
	q, err := sensors.ParseQuantity(name[strings.LastIndexByte(name, ':')+1:])
	return sensors.Channel{Quantity: q}, err == nil
}

// guessQuantity goes by the unit, and by the words of the name's last part
// where the unit leaves a choice. The factor turns the value into the
// quantity's own unit and is zero where nothing fits. "hPa" is a secondary
// unit of RFC 8798.
func guessQuantity(name, unit string) (q sensors.Quantity, factor float64) {
	last := strings.ToLower(name[strings.LastIndexAny(name, "/:")+1:])
	words := strings.FieldsFunc(last, func(r rune) bool { return r == '-' || r == '_' || r == '.' })
	says := func(some ...string) bool {
		return slices.ContainsFunc(some, func(w string) bool { return slices.Contains(words, w) })
	}
	switch {
	case unit == "%RH":
		return sensors.AirHumidity, 1
	case unit == "Pa":
		return sensors.AirPressure, 1
	case unit == "hPa":
		return sensors.AirPressure, 100
	case unit == "Cel" && says("surface"):
		return sensors.SurfaceTemperature, 1
	case unit == "Cel" && says("air", "temperature", "temp"):
		return sensors.AirTemperature, 1
	case unit == "ppm" && says("co2"):
		return sensors.CarbonDioxide, 1
	}
	return 0, 0
}
