package drying

import (
	"errors"
	"fmt"
	"math"
	"time"

	"recoat/sensors"
)

// Further is one more row of a label that states its times at several
// conditions, for the same film.
type Further struct {
	Air      sensors.Celsius
	Humidity sensors.RelativeHumidity
	Times    [StageCount]time.Duration // 0: not stated
}

// MostFurther is how many such rows a product may have.
const MostFurther = 8

func (f Further) conditions() Conditions {
	return Conditions{Air: f.Air, Humidity: f.Humidity, Surface: f.Air, SurfaceMeasured: true}
}

// LabelFit says how well the model keeps to a label that states several conditions:
// as it was, and once it is fitted through them. Off and Left are by what factor
// the worst of the further times is missed, 1 being not at all.
type LabelFit struct {
	Times int     `json:"times"` // that were fitted; 0: the label states one condition
	Off   float64 `json:"off"`   // of the model as it was
	Left  float64 `json:"left"`  // of the model as it is fitted
	// PerKelvin and PerPercent are what is added to the logarithm of every time
	// for each degree and each per cent away from the label's first conditions,
	// no further than the label's own go.
	PerKelvin  float64 `json:"per_k"`
	PerPercent float64 `json:"per_pct_rh"`
}

// Sentence says it for people; empty where there was nothing to fit.
func (f LabelFit) Sentence() string {
	if f.Times == 0 {
		return ""
	}
	return fmt.Sprintf("The label gives %d more times at other conditions. The model alone is off by up to ×/÷ %.2f there; fitted through them, by up to ×/÷ %.2f.", f.Times, f.Off, f.Left)
}

// LabelFit returns how well the model keeps to the label's further conditions.
func (p Product) LabelFit() (LabelFit, error) {
	m, err := newModel(p, 0)
	if err != nil {
		return LabelFit{}, err
	}
	return m.bend.fit, nil
}

// bend is how the laws of a kind are bent to one label: a factor on every time,
// 1 at the label's first conditions.
type bend struct {
	air, humidity                  float64 // of the first conditions
	airLow, airHigh, rhLow, rhHigh float64 // how far the label goes, from there
	fit                            LabelFit
}

// factor is by how much longer than by the law alone everything takes. Beyond
// the label's own conditions it stays as it is at their edge.
func (b *bend) factor(m *moist) float64 {
	if b.fit.Times == 0 {
		return 1
	}
	t := min(max(m.surface-b.air, b.airLow), b.airHigh)
	h := min(max(m.humidity-b.humidity, b.rhLow), b.rhHigh)
	return math.Exp(b.fit.PerKelvin*t + b.fit.PerPercent*h)
}

// rates are those of the law, bent to the label.
func (m *model) rates(now *moist) rates {
	r := m.law.rates(now)
	if k := m.bend.factor(now); k != 1 {
		r.evaporation, r.reaction = r.evaporation/k, r.reaction/k
	}
	return r
}

// What is known before a label's further rows are read: that the law is good to
// about half as much again for 10 K and a fifth for 10 %, and that a label's
// times are rounded to about a twentieth. Judgement; with these a single row is
// met to within a hundredth or so, and several that contradict each other share
// what is left.
const (
	priorPerKelvin  = 0.04
	priorPerPercent = 0.02
	labelRounding   = 0.05
)

// miss is by how much the law misses one further time: the logarithm of stated
// over reckoned, that far from the first conditions.
type miss struct{ kelvin, percent, log float64 }

// bendTo fits the law through the label's further rows, by least squares on the
// logarithms of the times with the priors above.
func (m *model) bendTo(rows []Further) {
	b := &m.bend
	b.air, b.humidity = float64(m.product.Stated.Air), float64(m.product.Stated.Humidity)
	var all []miss
	for _, row := range rows {
		here := newMoist(row.conditions(), m.law.wet)
		t, h := float64(row.Air)-b.air, float64(row.Humidity)-b.humidity
		b.airLow, b.airHigh, b.rhLow, b.rhHigh = min(b.airLow, t), max(b.airHigh, t), min(b.rhLow, h), max(b.rhHigh, h)
		longer := m.times(m.law.rates(&here))
		for _, s := range Stages() {
			if row.Times[s] == 0 {
				continue
			}
			reckoned := float64(m.product.Stated.Times[s]) / m.law.pace(s, longer)
			all = append(all, miss{t, h, math.Log(float64(row.Times[s]) / reckoned)})
		}
	}
	if len(all) > 0 {
		b.fit = fitted(all)
		m.spread = math.Hypot(m.spread, math.Log(b.fit.Left))
	}
}

// fitted solves the normal equations of the two slopes.
func fitted(all []miss) LabelFit {
	const weight = 1 / (labelRounding * labelRounding)
	tt, hh, th := 1/(priorPerKelvin*priorPerKelvin), 1/(priorPerPercent*priorPerPercent), 0.0
	var t, h float64
	for _, m := range all {
		tt, hh, th = tt+weight*m.kelvin*m.kelvin, hh+weight*m.percent*m.percent, th+weight*m.kelvin*m.percent
		t, h = t+weight*m.kelvin*m.log, h+weight*m.percent*m.log
	}
	determinant := tt*hh - th*th
	f := LabelFit{Times: len(all), PerKelvin: (t*hh - h*th) / determinant, PerPercent: (h*tt - t*th) / determinant}
	for _, m := range all {
		f.Off = max(f.Off, math.Exp(math.Abs(m.log)))
		f.Left = max(f.Left, math.Exp(math.Abs(m.log-f.PerKelvin*m.kelvin-f.PerPercent*m.percent)))
	}
	return f
}

// checkFurther refuses rows that cannot be fitted.
func (p Product) checkFurther() error {
	if n := len(p.Further); n > MostFurther {
		return fmt.Errorf("stated.also has %d rows: at most %d fit", n, MostFurther)
	}
	var wrong []error
	seen := map[[2]float64]bool{{float64(p.Stated.Air), float64(p.Stated.Humidity)}: true}
	for i, row := range p.Further {
		at := [2]float64{float64(row.Air), float64(row.Humidity)}
		name := fmt.Sprintf("stated.also, row %d", i+1)
		if seen[at] {
			wrong = append(wrong, fmt.Errorf("%s is at %v °C and %v %% again: give each pair of conditions once", name, row.Air, row.Humidity))
		}
		seen[at] = true
		wrong = append(wrong, span(name+", air,", at[0], -5, 50, "°C"), span(name+", rh,", at[1], 5, 90, "%"), p.checkRow(name, row))
	}
	return errors.Join(wrong...)
}

func (p Product) checkRow(name string, row Further) error {
	var wrong []error
	stated := false
	for _, s := range Stages() {
		t := row.Times[s]
		if t == 0 {
			continue
		}
		stated = true
		key := s.LabelKey()
		switch {
		case t < shortest || t > longest:
			wrong = append(wrong, fmt.Errorf("%s: %s is %v: a minute to two years would do", name, key, t))
		case p.Stated.Times[s] == 0 || p.IsAssumed(key):
			wrong = append(wrong, fmt.Errorf("%s gives %s, which the first conditions do not: give it there too, or leave it out here", name, key))
		}
	}
	if !stated {
		wrong = append(wrong, fmt.Errorf("%s holds no stage time: give one of those that the first conditions give", name))
	}
	return errors.Join(wrong...)
}
