package simroom

import (
	"errors"
	"fmt"
	"time"
)

const day = 24 * time.Hour

// check is one condition on a field: it holds, or the message says what would.
type check struct {
	holds bool
	field string
	want  string
}

func (c Config) validate() error {
	checks := []check{
		{c.Volume > 0, "Volume", "above 0 m³"},
		{c.HeatCapacity >= c.Volume*airDensity*airHeat, "HeatCapacity", "at least that of the air itself, in J/K"},
		{c.Air > -60 && c.Air < 60, "Air", "from -60 to 60 °C"},
		{c.Humidity > 0 && c.Humidity <= 100, "Humidity", "above 0 and up to 100 %"},
		{c.WallUA >= 0 && c.WindowUA >= 0, "WallUA and WindowUA", "at least 0 W/K"},
		{c.WindowArea >= 0, "WindowArea", "at least 0 m²"},
		{c.AirChange >= 0 && c.AirChange <= maxAirChange, "AirChange", "from 0 to 60 per hour"},
		{c.DoorAirChange >= 0 && c.DoorAirChange <= maxAirChange, "DoorAirChange", "from 0 to 60 per hour"},
		{c.AirSpeed >= 0 && c.DoorAirSpeed >= 0, "AirSpeed and DoorAirSpeed", "at least 0 m/s"},
		{c.Vapour >= 0, "Vapour", "at least 0 kg/h"},
		{c.Wood.Mass == 0 || c.Wood.Mass > 0 && c.Wood.Lag >= 10*time.Minute, "Wood", "a mass of at least 0 kg and a lag of at least 10 min"},
		{c.Wood.Mass*subStep.Seconds() <= 0.002*c.Volume*max(c.Wood.Lag, time.Second).Seconds(), "Wood.Mass", "smaller or its lag longer: the air could not follow"},
		{c.conductance() < c.HeatCapacity/(2*subStep.Seconds()), "WallUA and WindowUA", "small enough for the heat capacity"},
	}
	errs := failed(c.Name, checks)
	errs = append(errs, failed(c.Name, c.Heater.checks())...)
	errs = append(errs, failed(c.Name, c.Work.checks())...)
	errs = append(errs, failed(c.Name, c.Climate.checks())...)
	return errors.Join(errs...)
}

// conductance is all that leads heat out with the door open, in W/K.
func (c Config) conductance() float64 {
	return c.WallUA + c.WindowUA + max(c.AirChange, c.DoorAirChange)/3600*c.Volume*airDensity*airHeat
}

func (h Heater) checks() []check {
	return []check{
		{h.Power >= 0, "Heater.Power", "at least 0 W"},
		{0 <= h.From && h.From <= h.Until && h.Until <= day, "Heater.From and Until", "in order, within one day"},
		{h.Hysteresis >= 0, "Heater.Hysteresis", "at least 0 K"},
		{h.Lag >= 0, "Heater.Lag", "at least 0"},
	}
}

func (w Work) checks() []check {
	chances := true
	for _, p := range w.Days {
		chances = chances && p >= 0 && p <= 1
	}
	return []check{
		{chances, "Work.Days", "chances from 0 to 1"},
		{0 <= w.From && w.From <= w.Until && w.Until <= day, "Work.From and Until", "in order, within one day"},
		{w.Spread >= 0 && w.Heat >= 0 && w.Vapour >= 0, "Work.Spread, Heat and Vapour", "at least 0"},
		{w.Openings >= 0 && w.Openings <= 30, "Work.Openings", "from 0 to 30 per hour"},
		{w.Open >= 0, "Work.Open", "at least 0"},
	}
}

func (c Climate) checks() []check {
	return []check{
		{c.Mean > -40 && c.Mean < 45, "Climate.Mean", "from -40 to 45 °C"},
		{c.Season >= 0 && c.Day >= 0 && c.Weather >= 0, "Climate.Season, Day and Weather", "at least 0 K"},
		{c.Season == 0 || c.ColdestDay >= 1 && c.ColdestDay <= 365, "Climate.ColdestDay", "from 1 to 365"},
		{!c.random() || c.Persistence > 0, "Climate.Persistence", "above 0 where weather varies"},
		{c.DewDeficit >= 0 && c.DewWeather >= 0, "Climate.DewDeficit and DewWeather", "at least 0 K"},
		{c.Pressure > 50000 && c.Pressure < 110000, "Climate.Pressure", "from 50000 to 110000 Pa"},
		{c.Barometer >= 0 && c.Barometer < 3000, "Climate.Barometer", "from 0 to 3000 Pa"},
	}
}

func (c Climate) random() bool { return c.Weather > 0 || c.DewWeather > 0 || c.Barometer > 0 }

func (p Piece) validate() error {
	errs := failed("piece "+p.Name, []check{
		{p.Name != "", "Name", "not empty"},
		{p.Area > 0 && p.Area <= 100, "Area", "above 0, up to 100 m²"},
		{p.Board.Thickness >= 0.003, "Board.Thickness", "at least 0.003 m"},
		{p.Start > -40 && p.Start < 60, "Start", "from -40 to 60 °C"},
	})
	if err := p.Board.Check(); err != nil {
		errs = append(errs, fmt.Errorf("simulated room: piece %s: %w", p.Name, err))
	}
	return errors.Join(errs...)
}

func failed(what string, checks []check) []error {
	var errs []error
	for _, c := range checks {
		if !c.holds {
			errs = append(errs, fmt.Errorf("simulated room: %s: %s must be %s", what, c.field, c.want))
		}
	}
	return errs
}
