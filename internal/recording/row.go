package recording

import (
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"recoat/drying"
	"recoat/internal/quantity"
	"recoat/sensors"
)

const rightHeader = "its first line must be a header such as time,air_c,rh_pct,surface_c"

// column is one that is read.
type column struct {
	name     string
	required bool
	set      func(*drying.Sample, string, *time.Location) error
}

var columns = []column{
	{"time", true, func(s *drying.Sample, cell string, local *time.Location) (err error) {
		s.At, err = quantity.ParseTime(cell, local)
		return err
	}},
	{"air_c", true, measured(sensors.AirTemperature, 1, func(s *drying.Sample, v float64) { s.Air = sensors.Celsius(v) })},
	{"rh_pct", true, measured(sensors.AirHumidity, 1, func(s *drying.Sample, v float64) { s.Humidity = sensors.RelativeHumidity(v) })},
	{"surface_c", false, measured(sensors.SurfaceTemperature, 1, func(s *drying.Sample, v float64) {
		s.Surface, s.SurfaceMeasured = sensors.Celsius(v), true
	})},
	{"pressure_hpa", false, measured(sensors.AirPressure, 100, func(s *drying.Sample, v float64) { s.Pressure = sensors.Pascals(v) })},
	{"air_speed_m_s", false, measured(sensors.AirSpeed, 1, func(s *drying.Sample, v float64) { s.AirSpeed = sensors.MetresPerSecond(v) })},
}

// measured reads a number that scale brings to the unit of q.
func measured(q sensors.Quantity, scale float64, set func(*drying.Sample, float64)) func(*drying.Sample, string, *time.Location) error {
	return func(s *drying.Sample, cell string, _ *time.Location) error {
		v, err := strconv.ParseFloat(cell, 64)
		switch {
		case errors.Is(err, strconv.ErrSyntax), math.IsNaN(v), strings.ContainsAny(cell, "xX_"):
			return fmt.Errorf("%s is not a number", quantity.Quote(cell))
		case !q.Possible(v * scale):
			return fmt.Errorf("%s cannot be", quantity.Quote(cell))
		}
		set(s, v*scale)
		return nil
	}
}

// layout says at which place of a row each column is, -1 where there is none.
type layout struct {
	places []int
	width  int
}

func parseHeader(line string) (layout, error) {
	names, err := split(line)
	if err != nil {
		return layout{}, fmt.Errorf("line 1: %w: %s", err, rightHeader)
	}
	l := layout{width: len(names)}
	for _, c := range columns {
		place := -1
		for i, name := range names {
			if strings.TrimSpace(name) != c.name {
				continue
			}
			if place >= 0 {
				return layout{}, fmt.Errorf("line 1: the column %s is there twice: leave one of them out", c.name)
			}
			place = i
		}
		if place < 0 && c.required {
			return layout{}, fmt.Errorf("line 1: %s has no column %s: %s", quantity.Quote(line), c.name, rightHeader)
		}
		l.places = append(l.places, place)
	}
	return l, nil
}

func (l layout) parse(line string, local *time.Location) (drying.Sample, error) {
	cells, err := split(line)
	if err != nil {
		return drying.Sample{}, err
	}
	if len(cells) != l.width {
		return drying.Sample{}, fmt.Errorf("it has %d cells, and the header %d", len(cells), l.width)
	}
	var s drying.Sample
	for i, c := range columns {
		if l.places[i] < 0 {
			continue
		}
		cell := strings.TrimSpace(cells[l.places[i]])
		if cell == "" {
			if c.required {
				return drying.Sample{}, fmt.Errorf("%s is empty", c.name)
			}
			continue
		}
		if err := c.set(&s, cell, local); err != nil {
			return drying.Sample{}, fmt.Errorf("%s: %w", c.name, err)
		}
	}
	if !s.SurfaceMeasured {
		s.Surface = s.Air
	}
	return s, nil
}

// split parts a line into its cells. A cell in quotation marks ends on its
// line.
func split(line string) ([]string, error) {
	if !strings.Contains(line, `"`) {
		return strings.Split(line, ","), nil
	}
	cells, err := csv.NewReader(strings.NewReader(line)).Read()
	if err != nil {
		return nil, errors.New("its quotation marks do not match")
	}
	return cells, nil
}
