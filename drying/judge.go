package drying

import (
	"math"

	"recoat/drying/air"
	"recoat/sensors"
)

// coverage is how many standard uncertainties a value must be clear of a limit
// to count as clear: some 95 in 100 (JCGM 100:2008, annex G).
const coverage = 2

// DefaultLimits are those of a room in which no product has been chosen:
// common practice, no source, but for the 3 K above the dew point of
// MIL-HDBK-1110.
func DefaultLimits() Limits {
	return Limits{AirMin: 10, AirMax: 35, HumidityMax: 85, DewMarginMin: 3}
}

// Judge says whether the conditions allow putting the product on. A limit that
// is broken makes them unfit; one that is not cleared by twice the standard
// uncertainty of the value, or by a band of its own, calls for caution. What
// cannot be computed with is unknown, never fit.
func (p Product) Judge(c Conditions, u Uncertainty) Verdict {
	m, err := newModel(p, 0)
	if err != nil {
		return unknownVerdict(Reason{Code: "product", Text: err.Error()})
	}
	return judge(c, u, m.bounds, m.law.wet, m.product.IsAssumed)
}

// JudgeRoom says the same of a room in which no product has been chosen.
func JudgeRoom(c Conditions, u Uncertainty, l Limits) Verdict {
	if err := l.Check(); err != nil {
		return unknownVerdict(Reason{Code: "limits", Text: err.Error()})
	}
	return judge(c, u, boundsOf(l, roomBand, false), 0, func(string) bool { return false })
}

func unknownVerdict(r Reason) Verdict { return Verdict{State: Unknown, Reasons: []Reason{r}} }

// judge puts the reasons for the worst state first. For a room that is fit
// they are all the numbers that made it so, else those that did not.
func judge(c Conditions, u Uncertainty, bounds []bound, wet float64, assumed func(string) bool) Verdict {
	if err := c.Check(); err != nil {
		return unknownVerdict(unknownReason(err))
	}
	m := newMoist(c, wet)
	u = u.forConditions(c)
	byState := map[State][]Reason{}
	for i := range bounds {
		b := &bounds[i]
		state, r := b.judge(&m, u, assumed(b.key))
		byState[state] = addReason(byState[state], r)
	}
	switch {
	case len(byState[Unfit]) > 0:
		return Verdict{Unfit, append(byState[Unfit], byState[Caution]...)}
	case len(byState[Caution]) > 0:
		return Verdict{Caution, byState[Caution]}
	}
	return Verdict{Fit, byState[Fit]}
}

func (b *bound) judge(m *moist, u Uncertainty, assumed bool) (State, Reason) {
	sigma := b.sigma(m, u)
	r := b.reason(m, sigma, assumed)
	clear := b.margin(r.Value)
	switch {
	case !(clear >= 0):
		return Unfit, r
	case !(clear >= math.Max(coverage*sigma, b.band)):
		return Caution, r
	}
	return Fit, r
}

// DewMargin returns how far the surface is above the dew point and the
// standard uncertainty of that. Both are NaN for conditions that cannot be
// computed with.
func (c Conditions) DewMargin(u Uncertainty) (margin, sigma sensors.Kelvins) {
	if c.Check() != nil {
		nan := sensors.Kelvins(math.NaN())
		return nan, nan
	}
	m := newMoist(c, 0)
	return c.Surface.Sub(air.DewPoint(c.Air, c.Humidity)), sensors.Kelvins(dewMarginSigma(&m, u.forConditions(c)))
}
