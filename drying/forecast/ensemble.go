package forecast

import (
	"math"
	"slices"
	"time"

	"recoat/drying"
	"recoat/drying/air"
	"recoat/sensors"
)

// Ensemble is what the room may do from At on: members as likely as each
// other, each a whole trajectory of Horizon/Step steps. Step s, from 0, is the
// mean over the half hour from At + s·Step on.
type Ensemble struct {
	At              time.Time // the last full half hour before the forecast was made
	values          [quantityCount][][]float64
	surfaceMeasured bool
	judged          Judgement
}

// dryOut keeps the dew point of every member at or below its air: no room
// holds more water than the air can.
func (e *Ensemble) dryOut() {
	for m, dew := range e.values[DewPoint] {
		for s := range dew {
			dew[s] = min(dew[s], e.values[Air][m][s])
		}
	}
}

// Members is how many trajectories there are.
func (e *Ensemble) Members() int { return len(e.values[Air]) }

// Steps is how long each trajectory is.
func (e *Ensemble) Steps() int { return leads }

// Value is that of one quantity in one step of one member, in °C.
func (e *Ensemble) Value(q Quantity, member, step int) sensors.Celsius {
	return sensors.Celsius(e.values[q][member][step])
}

// Conditions are those of one step of one member. Air speed and pressure are
// not forecast.
func (e *Ensemble) Conditions(member, step int) drying.Conditions {
	t, dew := e.Value(Air, member, step), e.Value(DewPoint, member, step)
	return drying.Conditions{
		Air: t, Humidity: min(air.HumidityFromDewPoint(t, dew), 100),
		Surface: e.Value(Surface, member, step), SurfaceMeasured: e.surfaceMeasured,
	}
}

// Courses are the conditions of every step of every member, as
// drying.NewEnsemble takes them.
func (e *Ensemble) Courses() [][]drying.Conditions {
	all := make([][]drying.Conditions, e.Members())
	for m := range all {
		all[m] = make([]drying.Conditions, leads)
		for s := range all[m] {
			all[m][s] = e.Conditions(m, s)
		}
	}
	return all
}

// Outlook is one member as the drying model asks for what is expected. It has
// nothing to say before At, nor after the last step.
func (e *Ensemble) Outlook(member int) drying.Outlook {
	return func(t time.Time) (drying.Conditions, bool) {
		if t.Before(e.At) || !t.Before(e.At.Add(Horizon)) {
			return drying.Conditions{}, false
		}
		return e.Conditions(member, int(t.Sub(e.At)/Step)), true
	}
}

// Quantile is the value that a share p of the members does not exceed in the
// step that ends a lead after At, and whether there is such a step: leads are
// above zero, up to Horizon.
func (e *Ensemble) Quantile(q Quantity, lead time.Duration, p float64) (sensors.Celsius, bool) {
	s := int((lead+Step-1)/Step) - 1
	if q >= quantityCount || lead <= 0 || s >= leads || !(p >= 0 && p <= 1) {
		return 0, false
	}
	all := make([]float64, e.Members())
	for m := range all {
		all[m] = e.values[q][m][s]
	}
	slices.Sort(all)
	return sensors.Celsius(quantile(all, p)), true
}

// Judged reports whether the widths at a lead rest partly on judgement, for
// want of past forecasts to learn them from.
func (e *Ensemble) Judged(lead time.Duration) bool { return e.judged.At(lead) }

// Judgement is which widths of an ensemble do, for those that keep no more of it.
func (e *Ensemble) Judgement() Judgement { return e.judged }

// Judgement says lead by lead whether a width rests partly on judgement.
type Judgement [leads]bool

// At is that of one lead; true where there is no forecast.
func (j *Judgement) At(lead time.Duration) bool {
	s := int((lead+Step-1)/Step) - 1
	return s < 0 || s >= leads || j[s]
}

// quantile is that of sorted values, each of which stands for the middle of an
// equal share.
func quantile(sorted []float64, p float64) float64 {
	x := p*float64(len(sorted)) - 0.5
	i := int(math.Floor(x))
	switch {
	case i < 0:
		return sorted[0]
	case i >= len(sorted)-1:
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (x-float64(i))*(sorted[i+1]-sorted[i])
}
