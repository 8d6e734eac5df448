package simroom

import (
	"math"
	"strings"
	"testing"
	"time"

	"recoat/drying/air"
	"recoat/drying/wood"
	"recoat/sensors"
)

var start = time.Date(2026, 1, 12, 0, 0, 0, 0, time.UTC)

// plain is a room without chance: the weather stands still at 5 °C with a dew
// point of 2 °C, nobody comes, nothing stores vapour.
func plain() Config {
	return Config{
		Name: "plain", Air: 20, Humidity: 50,
		Volume: 50, HeatCapacity: 1e6, WallUA: 60, WindowUA: 15,
		AirChange: 0.6, DoorAirChange: 10, AirSpeed: 0.1, DoorAirSpeed: 0.3,
		Climate: Climate{Mean: 5, DewDeficit: 3, Pressure: sensors.StandardPressure},
	}
}

// losses is what leads heat out of a room with the door shut, in W/K.
func losses(c Config) float64 {
	return c.WallUA + c.WindowUA + c.AirChange/3600*1.2*c.Volume*1006
}

func newRoom(t testing.TB, cfg Config) *Room {
	t.Helper()
	r, err := New(cfg, start)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.6g, want %.6g within %.2g", what, got, want, tolerance)
	}
}

// In the steady state the heater gives what the room loses: P = ΣUA·ΔT.
func TestSteadyHeat(t *testing.T) {
	cfg := plain()
	cfg.Heater = Heater{Power: 1500, Day: 90, Night: 90, Until: day}
	r := newRoom(t, cfg)
	r.Step(5 * day)
	near(t, "steady air", float64(r.Air()), 5+1500/losses(cfg), 0.01)
	near(t, "heat", r.Truth().Heating, 1500, 0)
}

// A room left alone cools as ΔT·exp(-t·ΣUA/C), Newton's law for one capacity.
func TestFreeCooling(t *testing.T) {
	cfg := plain()
	r := newRoom(t, cfg)
	constant := cfg.HeatCapacity / losses(cfg)
	for range 24 {
		r.Step(30 * time.Minute)
		left := math.Exp(-r.Now().Sub(start).Seconds() / constant)
		near(t, r.Now().Format("15:04"), float64(r.Air())-5, 15*left, 0.02*15*left)
	}
}

// Vapour behaves alike: a steady source S in a flow m of dry air ends at
// W = W_out + S/m, and gets there as 1 - exp(-n·t) with n air changes.
func TestVapourSource(t *testing.T) {
	cfg := plain()
	cfg.Heater = Heater{Power: 3000, Day: 20, Night: 20, Until: day, Hysteresis: 0.2}
	cfg.Vapour = 0.1
	r := newRoom(t, cfg)
	flow := cfg.AirChange * 1.2 * cfg.Volume // kg/h
	outside := air.HumidityRatio(2, 100, sensors.StandardPressure)
	goal := outside + cfg.Vapour/flow
	begun := air.HumidityRatio(20, 50, sensors.StandardPressure)
	for range 10 {
		r.Step(time.Hour)
		hours := r.Now().Sub(start).Hours()
		got := air.HumidityRatio(r.Air(), r.Humidity(), r.Pressure())
		near(t, "humidity ratio", got, goal+(begun-goal)*math.Exp(-cfg.AirChange*hours), 0.01*goal)
	}
	r.Step(2 * day)
	near(t, "steady humidity ratio", air.HumidityRatio(r.Air(), r.Humidity(), r.Pressure()), goal, 1e-6*goal)
}

func TestThermostatHoldsDayAndNight(t *testing.T) {
	cfg := plain()
	cfg.Heater = Heater{Power: 3000, Day: 20, Night: 14, From: 7 * time.Hour, Until: 21 * time.Hour, Hysteresis: 1}
	r := newRoom(t, cfg)
	r.Step(day)
	for range 24 * 12 {
		r.Step(5 * time.Minute)
		switch hour := r.Now().Hour(); {
		case hour >= 10 && hour < 21:
			near(t, r.Now().String(), float64(r.Air()), 20, 0.6)
		case hour >= 4 && hour < 7:
			near(t, r.Now().String(), float64(r.Air()), 14, 0.6)
		}
	}
}

// A stove that nobody feeds goes out, and its heat dies away with its lag.
func TestAttendedHeaterGoesOut(t *testing.T) {
	b := burner{heater: Heater{Power: 4000, Day: 30, Until: day, Lag: time.Hour, Attended: true}}
	var fed float64
	for range 6 * 360 {
		fed = b.step(start, subStep, 15, true)
	}
	near(t, "after 6 h of feeding", fed, 4000*(1-math.Exp(-6)), 1)
	for range 2 * 360 {
		fed = b.step(start, subStep, 15, false)
	}
	near(t, "2 h after the last log", fed, 4000*(1-math.Exp(-6))*math.Exp(-2), 1)
}

// Cooling a closed damp room lays dew on the panes, or where there are none on
// everything, and never leaves more than 100 %.
func TestDewTakesWhatTheAirCannotHold(t *testing.T) {
	for _, glass := range []float64{3, 0} {
		cfg := plain()
		cfg.Humidity, cfg.AirChange, cfg.WindowArea = 95, 0, glass
		r := newRoom(t, cfg)
		before := r.water()
		for range 200 {
			r.Step(5 * time.Minute)
			// Before Humidity cuts it off; the heat of the dew is reckoned along
			// a tangent, which leaves a trace.
			if h := air.HumidityFromRatio(r.Air(), r.humidityRatio(), r.Pressure()); !(h > 0 && h <= 100.01) {
				t.Fatalf("%g m² of glass: at %v the humidity is %v", glass, r.Now(), h)
			}
		}
		if dew := max(r.pane.water, r.fittings.water); dew <= 0.01 {
			t.Errorf("%g m² of glass: %g kg/m² of dew: more should have settled", glass, dew)
		}
		near(t, "water in a closed room", r.water(), before, 1e-9*before)
	}
}

// Wood that stores vapour slows the air's humidity down, and ends where the
// air's equilibrium is.
func TestWoodBuffersVapour(t *testing.T) {
	cfg := plain()
	cfg.Heater = Heater{Power: 3000, Day: 20, Night: 20, Until: day, Hysteresis: 0.2}
	bare := newRoom(t, cfg)
	cfg.Wood = WoodStore{Mass: 80, Lag: 6 * time.Hour}
	lined := newRoom(t, cfg)
	bare.Step(6 * time.Hour)
	lined.Step(6 * time.Hour)
	if lined.Humidity() < bare.Humidity()+5 {
		t.Errorf("after 6 h of dry air %.1f %% with wood and %.1f %% without: the wood should hold the humidity up", lined.Humidity(), bare.Humidity())
	}
	lined.Step(30 * day)
	near(t, "moisture of the wood", 100*lined.moisture, wood.EMC(lined.Air(), lined.Humidity()), 0.05)
}

func TestBringAndApplyRefuse(t *testing.T) {
	r := newRoom(t, plain())
	top := piece("top", 1, 0.025, 5)
	if err := r.Bring(top); err != nil {
		t.Fatal(err)
	}
	for what, err := range map[string]error{
		"in the room already":  r.Bring(top),
		"no such piece":        r.Apply("leg", 0.05),
		"above 0":              r.Apply("top", math.NaN()),
		"Area":                 r.Bring(Piece{Name: "p", Board: wood.Typical(0.02)}),
		"thickness":            r.Bring(Piece{Name: "p", Area: 1, Board: wood.Typical(3)}),
		"Board.Thickness must": r.Bring(Piece{Name: "p", Area: 1, Board: wood.Typical(0.001)}),
	} {
		if err == nil || !strings.Contains(err.Error(), what) {
			t.Errorf("got %v, want an error with %q", err, what)
		}
	}
	if _, there := r.Surface("leg"); there {
		t.Error("a piece that was never brought has a surface")
	}
}

func TestNewNamesTheField(t *testing.T) {
	for field, spoil := range map[string]func(*Config){
		"Volume":              func(c *Config) { c.Volume = 0 },
		"HeatCapacity":        func(c *Config) { c.HeatCapacity = 1000 },
		"Humidity":            func(c *Config) { c.Humidity = sensors.RelativeHumidity(math.NaN()) },
		"WallUA":              func(c *Config) { c.WallUA = 1e6 },
		"AirChange":           func(c *Config) { c.AirChange = 100 },
		"Wood":                func(c *Config) { c.Wood.Mass = 10 },
		"Wood.Mass":           func(c *Config) { c.Wood = WoodStore{Mass: 1e4, Lag: time.Hour} },
		"Heater.From":         func(c *Config) { c.Heater.Until = 25 * time.Hour },
		"Work.Days":           func(c *Config) { c.Work.Days[3] = 1.5 },
		"Work.Openings":       func(c *Config) { c.Work.Openings = -1 },
		"Climate.Pressure":    func(c *Config) { c.Climate.Pressure = 0 },
		"Climate.Persistence": func(c *Config) { c.Climate.Weather = 2 },
		"Climate.ColdestDay":  func(c *Config) { c.Climate.Season = 2 },
		"no such piece":       func(c *Config) { c.Coats = []Coat{{Piece: "leg", Water: 0.05}} },
	} {
		cfg := plain()
		spoil(&cfg)
		if _, err := New(cfg, start); err == nil || !strings.Contains(err.Error(), field) {
			t.Errorf("%s: got error %v, which should name it", field, err)
		}
	}
}
