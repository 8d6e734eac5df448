package main

import (
	"fmt"

	"recoat/drying/air"
	"recoat/sensors"
)

type airCommand struct {
	Air      temperatureFlag  `required:"" help:"Air temperature, such as 20C or 68F." placeholder:"20C"`
	RH       humidityFlag     `required:"" name:"rh" help:"Relative humidity in per cent." placeholder:"60"`
	Surface  *temperatureFlag `help:"Temperature of the surface to be coated." placeholder:"14C"`
	Pressure pressureFlag     `default:"1013.25hPa" help:"Air pressure."`
	JSON     bool             `name:"json" help:"Write JSON."`
}

// airState is the JSON of the command; the dew point is over water, below 0 °C
// too.
type airState struct {
	Air              *float64 `json:"air_c"`
	Humidity         *float64 `json:"rh_pct"`
	Pressure         *float64 `json:"pressure_hpa"`
	DewPoint         *float64 `json:"dew_point_c"`
	WetBulb          *float64 `json:"wet_bulb_c"`
	VapourPressure   *float64 `json:"vapour_pressure_hpa"`
	AbsoluteHumidity *float64 `json:"absolute_humidity_g_m3"`
	HumidityRatio    *float64 `json:"humidity_ratio_g_kg"`
	WoodEMC          *float64 `json:"wood_emc_pct"`
	Surface          *float64 `json:"surface_c,omitempty"`
	DewMargin        *float64 `json:"dew_margin_c,omitempty"`
	SurfaceHumidity  *float64 `json:"surface_rh_pct,omitempty"`
}

// Run writes the state of the air.
func (c *airCommand) Run(s *session) error {
	state, err := air.At(sensors.Celsius(c.Air), sensors.RelativeHumidity(c.RH), sensors.Pascals(c.Pressure))
	if err != nil {
		return usage{err}
	}
	j := airState{
		Air:              places(float64(state.Air), 3),
		Humidity:         places(float64(state.Humidity), 3),
		Pressure:         places(float64(state.Pressure)/100, 2),
		DewPoint:         places(float64(state.DewPoint), 3),
		WetBulb:          places(float64(state.WetBulb), 3),
		VapourPressure:   places(float64(state.VapourPressure)/100, 4),
		AbsoluteHumidity: places(state.AbsoluteHumidity, 3),
		HumidityRatio:    places(1000*state.HumidityRatio, 4),
		WoodEMC:          places(state.WoodEMC, 2),
	}
	if c.Surface != nil {
		surface := sensors.Celsius(*c.Surface)
		j.Surface = places(float64(surface), 3)
		j.DewMargin = places(float64(state.DewMargin(surface)), 3)
		j.SurfaceHumidity = places(float64(state.AtSurface(surface)), 2)
	}
	if c.JSON {
		return writeJSON(s.stdout, j)
	}
	c.print(s, state)
	return nil
}

func (c *airCommand) print(s *session, a air.State) {
	fmt.Fprintf(s.stdout, "Air                %6.1f °C, %.0f %% relative humidity\n", a.Air, a.Humidity)
	fmt.Fprintf(s.stdout, "Dew point          %6.1f °C\n", a.DewPoint)
	fmt.Fprintf(s.stdout, "Wet bulb           %6.1f °C\n", a.WetBulb)
	fmt.Fprintf(s.stdout, "Water in the air   %6.1f g/m³\n", a.AbsoluteHumidity)
	fmt.Fprintf(s.stdout, "Wood tends to      %6.1f %% moisture\n", a.WoodEMC)
	if c.Surface == nil {
		return
	}
	surface := sensors.Celsius(*c.Surface)
	margin := a.DewMargin(surface)
	fmt.Fprintf(s.stdout, "Surface            %6.1f °C, %.1f K above the dew point; %.0f %% humidity at the surface\n", surface, margin, a.AtSurface(surface))
	if margin < 0 {
		fmt.Fprintln(s.stdout, "Water condenses on this surface.")
	}
}
