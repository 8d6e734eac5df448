package plan

import (
	"errors"
	"fmt"
	"math"

	"recoat/drying"
	"recoat/drying/air"
	"recoat/sensors"
)

// Change is what might be done to a room from the ensemble's start on, or to
// the coats. A field of zero changes nothing.
type Change struct {
	// RaiseAir warms the air. Its water stays as it is, so the relative
	// humidity falls and the dew point does not move; the piece warms after it
	// as a board of 18 mm does.
	RaiseAir sensors.Kelvins
	// HoldHumidity is where a dehumidifier takes the relative humidity down
	// to. Drier air stays as it is. The warmth it gives off is not counted.
	HoldHumidity sensors.RelativeHumidity
	// MoveAir is the least speed of the air over the coats.
	MoveAir sensors.MetresPerSecond
	// Film is the wet film of every coat.
	Film drying.Microns
}

// Check returns what is wrong with the change, or nil.
func (c Change) Check() error {
	return errors.Join(
		between("the air raised by", float64(c.RaiseAir), 30, "K"),
		between("the humidity held", float64(c.HoldHumidity), 100, "%"),
		between("the air moved at", float64(c.MoveAir), 5, "m/s"),
		between("the film", float64(c.Film), 3000, "µm"),
	)
}

func between(what string, v, most float64, unit string) error {
	if !(v >= 0 && v <= most) {
		return fmt.Errorf("%s is %v %s: 0 (no change) to %v %s would do", what, v, unit, most, unit)
	}
	return nil
}

// apply returns the conditions with the change, for a piece that has warmed by
// a share of the air's rise.
func (c Change) apply(to drying.Conditions, warmed float64) drying.Conditions {
	if c.RaiseAir > 0 {
		vapour := air.VapourPressure(to.Air, to.Humidity)
		to.Air = to.Air.Add(c.RaiseAir)
		to.Humidity = air.HumidityAtSurface(vapour, to.Air)
		to.Surface = to.Surface.Add(sensors.Kelvins(warmed) * c.RaiseAir)
	}
	if c.HoldHumidity > 0 {
		to.Humidity = min(to.Humidity, c.HoldHumidity)
	}
	to.AirSpeed = sensors.MetresPerSecond(math.Max(float64(to.AirSpeed), float64(c.MoveAir)))
	return to
}

// Cautions says what to beware of with the change, for people.
func (c Change) Cautions() []string {
	var all []string
	if c.RaiseAir > 0 {
		all = append(all,
			"No flame and no glowing heater near solvent vapour, nor any other heater that the label or local rules do not allow there: warm the room before the tin is opened. The label and local rules come first.",
			"A heater that burns gas or oil in the room adds water to the air: this plan counts on one that does not.")
	}
	if c.HoldHumidity > 0 || c.MoveAir > 0 {
		all = append(all, "A fan or a dehumidifier has a motor and switches: keep them out of solvent vapour, and never let closing the room to dry its air take the place of airing it. The label and local rules come first.")
	}
	if c.MoveAir > 0 {
		all = append(all, "Moving air carries dust: clean first, and do not aim it at a wet film.")
	}
	if c.Film > 0 {
		all = append(all, "A thinner film may take one more coat; the least that the label asks for comes first.")
	}
	return all
}
