package simroom

import (
	"testing"
	"time"
)

// Whatever the room stores more than at first has crossed its boundary. The
// ledger is fed by flows alone, the stores by the state alone.
func TestBalancesClose(t *testing.T) {
	for _, cfg := range Presets() {
		t.Run(cfg.Name, func(t *testing.T) {
			cfg.Seed = 5
			cfg.Coats = []Coat{
				{After: 5 * time.Hour, Piece: cfg.Pieces[0].Name, Water: 0.06},
				{After: 30 * time.Hour, Piece: cfg.Pieces[1].Name, Water: 0.08},
			}
			r := newRoom(t, cfg)
			energy, water := r.energy(), r.water()
			r.Step(2 * day)
			if err := r.Bring(piece("late arrival", 1, 0.03, 2)); err != nil {
				t.Fatal(err)
			}
			if err := r.Apply("late arrival", 0.05); err != nil {
				t.Fatal(err)
			}
			r.Step(5 * day)

			l := r.ledger
			near(t, "energy", r.energy()-energy, l.energyIn-l.energyOut, 1e-6*l.energyIn)
			near(t, "water", r.water()-water, l.waterIn-l.waterOut, 1e-6*l.waterIn)
			if l.energyIn < 1e6 || l.energyOut < 1e6 || l.waterIn < 0.1 || l.waterOut < 0.1 {
				t.Errorf("next to nothing moved: %+v", l)
			}
		})
	}
}
