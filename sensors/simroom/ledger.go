package simroom

// ledger sums what crossed the room's boundary since the start.
type ledger struct {
	energyIn, energyOut float64 // J
	waterIn, waterOut   float64 // kg
}

func (l *ledger) energy(joules float64) {
	l.energyIn += max(0, joules)
	l.energyOut += max(0, -joules)
}

func (l *ledger) water(kilograms float64) {
	l.waterIn += max(0, kilograms)
	l.waterOut += max(0, -kilograms)
}

// energy is all that the room stores above 0 °C and liquid water, in J.
func (r *Room) energy() float64 {
	sum := r.cfg.HeatCapacity*float64(r.temperature) + latentHeat*r.vapour
	for _, b := range r.boards {
		sum += b.energy()
	}
	return sum
}

// water is all the water that the room stores, in kg, but for what is bound in
// the pieces, which does not move here.
func (r *Room) water() float64 {
	sum := r.vapour + r.moisture*r.cfg.Wood.Mass + r.pane.water*r.cfg.WindowArea + r.fittings.water*r.fittingsArea()
	for _, b := range r.boards {
		sum += b.water()
	}
	return sum
}
