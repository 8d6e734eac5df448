package plan

import "time"

// Energy is roughly what a change to the room takes, in kWh. It is wide, as
// nobody has measured the room's walls.
type Energy struct{ Low, High float64 }

// What a small workshop takes. The heat lost by its air is 0.34 Wh for each m³
// and K (the heat capacity of air, as EN 12831-1 rounds it, from memory); that
// such a room has 30 to 60 m³ which change once to three times an hour, and
// walls that lose 30 to 120 W/K, and what the machines draw, is common practice,
// no source.
const (
	airHeat      = 0.34 // Wh/(m³·K)
	leastLoss    = 30*1*airHeat + 30
	mostLoss     = 60*3*airHeat + 120
	dehumidLow   = 200.0 // W
	dehumidHigh  = 500.0
	fanLow       = 30.0
	fanHigh      = 80.0
	wattsInAKilo = 1000
)

// Watts returns what the change takes while it lasts, low to high.
func (c Change) Watts() (low, high float64) {
	low, high = float64(c.RaiseAir)*leastLoss, float64(c.RaiseAir)*mostLoss
	if c.HoldHumidity > 0 {
		low, high = low+dehumidLow, high+dehumidHigh
	}
	if c.MoveAir > 0 {
		low, high = low+fanLow, high+fanHigh
	}
	return low, high
}

// Energy returns what the change takes if it lasts so long. A thinner film takes
// none.
func (c Change) Energy(d time.Duration) Energy {
	if d <= 0 {
		return Energy{}
	}
	low, high := c.Watts()
	return Energy{low * d.Hours() / wattsInAKilo, high * d.Hours() / wattsInAKilo}
}
