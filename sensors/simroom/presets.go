package simroom

import (
	"fmt"
	"strings"
	"time"

	"recoat/drying/wood"
	"recoat/sensors"
)

// Presets are three invented rooms in one invented cool, damp climate, in this
// order: "back-room", a heated room of a house; "stove-shop", a workshop whose
// stove goes out at night; "garage", unheated and damp. Each stands with
// pieces in it and is worked in; none has a coat yet. Sizes and losses are
// common practice, no source.
func Presets() []Config {
	return []Config{backRoom(), stoveShop(), garage()}
}

// Preset finds a preset by its name; the error lists the names there are.
func Preset(name string) (Config, error) {
	var names []string
	for _, c := range Presets() {
		if c.Name == name {
			return c, nil
		}
		names = append(names, c.Name)
	}
	return Config{}, fmt.Errorf("no simulated room is called %q: there are %s", name, strings.Join(names, ", "))
}

func climate() Climate {
	return Climate{
		Mean: 9.5, Season: 6.5, ColdestDay: 20, Day: 3.5,
		Weather: 3, Persistence: 60 * time.Hour,
		DewDeficit: 3, DewWeather: 1.8,
		Pressure: 101300, Barometer: 900,
	}
}

func backRoom() Config {
	return Config{
		Name: "back-room",
		Air:  18, Humidity: 55,
		Volume: 42, HeatCapacity: 1.3e6, WallUA: 32, WindowUA: 6, WindowArea: 2.2,
		AirChange: 0.5, DoorAirChange: 8, AirSpeed: 0.08, DoorAirSpeed: 0.25,
		Vapour: 0.01,
		Wood:   WoodStore{Mass: 45, Lag: 8 * time.Hour},
		Heater: Heater{
			Power: 2000, Day: 19.5, Night: 16, From: 7 * time.Hour, Until: 22 * time.Hour,
			Hysteresis: 0.8, Lag: 12 * time.Minute,
		},
		Work: Work{
			Days: [7]float64{0.3, 0.7, 0.8, 0.8, 0.8, 0.7, 0.6},
			From: 18 * time.Hour, Until: 21*time.Hour + 30*time.Minute, Spread: time.Hour,
			Heat: 180, Vapour: 0.06, Openings: 3, Open: 90 * time.Second,
		},
		Climate: climate(),
		Pieces: []Piece{
			piece("drawer fronts", 0.6, 0.018, 17),
			piece("table top", 1.3, 0.032, 17),
		},
	}
}

func stoveShop() Config {
	return Config{
		Name: "stove-shop",
		Air:  11, Humidity: 68,
		Volume: 85, HeatCapacity: 6.5e6, WallUA: 120, WindowUA: 24, WindowArea: 5,
		AirChange: 0.9, DoorAirChange: 15, AirSpeed: 0.1, DoorAirSpeed: 0.4,
		Vapour: 0.03,
		Wood:   WoodStore{Mass: 160, Lag: 12 * time.Hour},
		Heater: Heater{
			Power: 8000, Day: 19, Night: 19, From: 0, Until: day,
			Hysteresis: 2, Lag: 50 * time.Minute, Attended: true,
		},
		Work: Work{
			Days: [7]float64{0, 0.95, 0.95, 0.95, 0.95, 0.95, 0.5},
			From: 8 * time.Hour, Until: 17*time.Hour + 30*time.Minute, Spread: 45 * time.Minute,
			Heat: 300, Vapour: 0.08, Openings: 4, Open: 2 * time.Minute,
		},
		Climate: climate(),
		Pieces: []Piece{
			piece("carcass", 1.8, 0.018, 10),
			piece("bench top", 1.1, 0.07, 10),
		},
	}
}

func garage() Config {
	return Config{
		Name: "garage",
		Air:  8, Humidity: 82,
		Volume: 48, HeatCapacity: 4.5e6, WallUA: 95, WindowUA: 7, WindowArea: 1.2,
		AirChange: 0.8, DoorAirChange: 25, AirSpeed: 0.1, DoorAirSpeed: 0.5,
		Vapour: 0.02,
		Wood:   WoodStore{Mass: 70, Lag: 10 * time.Hour},
		Work: Work{
			Days: [7]float64{0.5, 0.3, 0.3, 0.3, 0.3, 0.3, 0.7},
			From: 10 * time.Hour, Until: 16 * time.Hour, Spread: 2 * time.Hour,
			Heat: 250, Vapour: 0.06, Openings: 1.5, Open: 6 * time.Minute,
		},
		Climate: climate(),
		Pieces: []Piece{
			piece("cupboard door", 0.7, 0.018, 8),
			piece("sideboard top", 0.8, 0.045, 8),
		},
	}
}

func piece(name string, area, thickness float64, start sensors.Celsius) Piece {
	return Piece{Name: name, Area: area, Board: wood.Typical(thickness), Start: start}
}
