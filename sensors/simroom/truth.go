package simroom

import (
	"fmt"
	"time"

	"recoat/drying/air"
	"recoat/sensors"
)

// Truth is everything of a room at one instant, as no sensor sees it.
type Truth struct {
	At       time.Time
	Air      sensors.Celsius
	Humidity sensors.RelativeHumidity
	DewPoint sensors.Celsius
	Pressure sensors.Pascals
	AirSpeed sensors.MetresPerSecond

	Outdoor         sensors.Celsius
	OutdoorDewPoint sensors.Celsius

	Heating  float64 // W
	Occupied bool
	DoorOpen bool

	Pieces []PieceTruth // in the order they came in
}

// PieceTruth is a piece of a Truth.
type PieceTruth struct {
	Name    string
	Surface sensors.Celsius // of the face that is coated
	Core    sensors.Celsius
	Water   float64 // kg/m² of liquid water on that face, of a coat or of dew
}

// Truth tells all of the room.
func (r *Room) Truth() Truth {
	a := r.ambient()
	t := Truth{
		At:  r.now,
		Air: r.temperature, Humidity: r.Humidity(), Pressure: r.outdoors.pressure, AirSpeed: a.speed,
		DewPoint: air.DewPoint(r.temperature, r.Humidity()),
		Outdoor:  r.outdoors.temperature, OutdoorDewPoint: r.outdoors.dewPoint,
		Heating: r.heating, Occupied: r.occupied, DoorOpen: r.doorOpen,
		Pieces: make([]PieceTruth, 0, len(r.boards)),
	}
	for _, b := range r.boards {
		t.Pieces = append(t.Pieces, PieceTruth{
			Name: b.piece.Name, Surface: b.surfaces[0], Core: b.core(), Water: b.films[0].water,
		})
	}
	return t
}

// Record runs a room from start over span and hands each its truth: first at
// start, then after every step of that length, last at or before the end of
// span. every is a multiple of 10 s. The error says which field of the
// configuration, or that one of the two durations, is wrong.
func Record(cfg Config, start time.Time, span, every time.Duration, each func(at time.Time, truth Truth)) error {
	if every < subStep || every%subStep != 0 || span < 0 {
		return fmt.Errorf("simulated room: a record of %v every %v: a span of at least 0 s, every 10 s or a multiple of it, would be right", span, every)
	}
	r, err := New(cfg, start)
	if err != nil {
		return err
	}
	each(start, r.Truth())
	for gone := every; gone <= span; gone += every {
		r.Step(every)
		each(start.Add(gone), r.Truth())
	}
	return nil
}
