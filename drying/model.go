package drying

import (
	"fmt"
	"math"
	"time"
)

// model is a product made ready to compute with, for one film.
type model struct {
	product   Product
	law       law
	bounds    []bound
	reference rates   // at the label's own conditions
	thickness rates   // how many times longer the film takes than the label's
	spread    float64 // of what the label leaves open, for every stage
	learnt    Learnt
	atLabel   float64 // the law's spread at the label's own conditions
	bend      bend
}

// assumedStage and assumedFilm are the spreads of a stage time, and of a time
// scaled from a film thickness, that the label does not give. Judgement.
const (
	assumedStage = 0.4
	assumedFilm  = 0.2
)

// newModel takes a product that Complete accepts; a film of zero is the
// label's.
func newModel(p Product, film Microns) (*model, error) {
	p, err := p.Complete()
	if err != nil {
		return nil, err
	}
	if math.IsNaN(float64(film)) || film < 0 || film > maxFilm {
		return nil, fmt.Errorf("the film is %v µm: 0 (as on the label) to %v µm can be reckoned with", film, maxFilm)
	}
	k, err := findKind(p.Family, p.Kind)
	if err != nil {
		return nil, err
	}
	m := &model{product: p, law: k.law(), thickness: rates{1, 1}}
	if film > 0 {
		m.thickness = m.law.thicker(float64(film / p.Stated.Film))
		if p.IsAssumed("stated.film") {
			m.spread = assumedFilm
		}
	}
	m.bounds = boundsOf(p.Limits, m.law.humidityBand, m.law.wet > 0)
	reference := newMoist(p.Stated.conditions(), m.law.wet)
	m.reference = m.law.rates(&reference)
	m.atLabel = m.law.spread(&reference)
	m.bendTo(p.Further)
	return m, nil
}

// newCoatModel takes a coat, with what was learnt of its product.
func newCoatModel(c Coat) (*model, error) {
	if err := c.Learnt.check(); err != nil {
		return nil, err
	}
	m, err := newModel(c.Product, c.Film)
	if err != nil {
		return nil, err
	}
	m.learnt = c.Learnt
	return m, nil
}

// conditions are those in which the label's times hold.
func (s Stated) conditions() Conditions {
	return Conditions{Air: s.Air, Humidity: s.Humidity, Surface: s.Air, SurfaceMeasured: true}
}

// moment is what the model makes of conditions.
type moment struct {
	known bool
	moist moist
	times rates  // how many times longer the two processes take
	shut  uint32 // the bounds that stop the clock, by place in model.bounds
	// variance is the square of the law's spread here, with what is added for
	// a surface that was not measured.
	variance float64
}

// at works out the moment of conditions that Check accepts.
func (m *model) at(c *Conditions, now *moment) {
	now.known = true
	now.moist.take(c, m.law.wet)
	now.times = m.times(m.rates(&now.moist))
	now.shut = m.stopped(&now.moist)
	now.variance = m.variance(m.law.spread(&now.moist), c.SurfaceMeasured)
}

// times returns how many times longer than at the label's conditions the two
// processes take. A rate of zero gives +Inf.
func (m *model) times(now rates) rates {
	return rates{
		evaporation: m.reference.evaporation / now.evaporation * m.thickness.evaporation,
		reaction:    m.reference.reaction / now.reaction * m.thickness.reaction,
	}
}

// stopped returns the bounds that stop the clock, by place in model.bounds.
func (m *model) stopped(now *moist) (shut uint32) {
	for i := range m.bounds {
		if b := &m.bounds[i]; !b.idle && b.broken(now) {
			shut |= 1 << i
		}
	}
	return shut
}

// variance is the square of the spread of a stage's time.
func (m *model) variance(spread float64, surfaceMeasured bool) float64 {
	v := m.learnt.variance(spread, m.atLabel)
	if !surfaceMeasured {
		v += m.law.surfaceSpread * m.law.surfaceSpread
	}
	return v
}

// pace is how fast the clock of a stage runs; 0 while anything stops it.
func (m *model) pace(s Stage, now *moment) float64 {
	if !now.known || now.shut != 0 {
		return 0
	}
	return m.law.pace(s, now.times)
}

// reasons says which bounds stop the clock.
func (m *model) reasons(now *moment) []Reason {
	var all []Reason
	for i := range m.bounds {
		if now.shut&(1<<i) != 0 {
			b := &m.bounds[i]
			all = addReason(all, b.reason(&now.moist, 0, m.product.IsAssumed(b.key)))
		}
	}
	return all
}

// stageVariance is the square of the spread that goes with a stage wherever
// the coat dries.
func (m *model) stageVariance(s Stage) float64 {
	v := m.spread * m.spread
	if m.product.IsAssumed(s.LabelKey()) {
		v += assumedStage * assumedStage
	}
	return v
}

// eightInTen is how many standard deviations to either side hold eight in ten
// of a normal distribution.
const eightInTen = 1.2815515655446004

// width returns the factor by which Low and High differ from Likely.
func width(variance float64) float64 { return math.Exp(eightInTen * math.Sqrt(variance)) }

func scale(d time.Duration, by float64) time.Duration {
	return time.Duration(math.Round(float64(d) * by))
}
