package learn

import (
	"fmt"

	"recoat/drying"
)

// Doubt is a touch test that does not fit what the others say: more likely than
// not, what was noted is not what was felt.
type Doubt struct {
	Index       int // of the test among those given to Learn
	Test        Test
	Probability float64 // that somebody slipped, above 0.5
	// Likely is what the coat would rather have felt like, by all tests.
	Likely Feel
	Text   string // a sentence for a person
}

// doubtful is the probability above which a test is named.
const doubtful = 0.5

// doubt names a test if it does not fit. Belief is the density of its coat's
// factor for each node, of the given mass in all.
func (l *learner) doubt(p *product, index int, belief []curve, mass float64) {
	t := &l.tests[index]
	wrong := p.mean(t, belief, func(x, touch, tack float64) float64 {
		return slipped / likelihood(t.Feel, x, touch, tack)
	}) / mass
	if wrong <= doubtful {
		return
	}
	d := Doubt{Index: index, Test: *t, Probability: wrong}
	best := 0.0
	for _, f := range feels {
		c := p.mean(t, belief, func(x, touch, tack float64) float64 { return chance(f, x, touch, tack) })
		if c > best {
			d.Likely, best = f, c
		}
	}
	d.Text = fmt.Sprintf("coat %s was noted as %s at %.1f× the label's time to %v; by the other touch tests it was more likely %s: "+
		"undo the note if it is wrong, touch again if it is right",
		t.Coat, t.Feel, t.Gained[drying.SetToTouch], drying.SetToTouch, d.Likely)
	l.doubts = append(l.doubts, d)
}

// mean sums a function over a density of the coat's factor.
func (p *product) mean(t *Test, belief []curve, of func(x, touch, tack float64) float64) float64 {
	sum := 0.0
	for k, n := range p.nodes {
		touch, tack := p.prior.gained(t, n.off)
		for i, v := range belief[k] {
			sum += v * of(at(i), touch, tack)
		}
	}
	return sum
}
