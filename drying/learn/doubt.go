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
	wrong := 0.0
	chances := map[Feel]float64{}
	for k, n := range p.nodes {
		touch, tack := p.prior.gained(t, n.off)
		for i, v := range belief[k] {
			wrong += v / mass * slipped / likelihood(t.Feel, at(i), touch, tack)
			for _, f := range feels {
				chances[f] += v / mass * chance(f, at(i), touch, tack)
			}
		}
	}
	if wrong <= doubtful {
		return
	}
	d := Doubt{Index: index, Test: *t, Probability: wrong, Likely: Wet}
	for _, f := range feels {
		if chances[f] > chances[d.Likely] {
			d.Likely = f
		}
	}
	d.Text = fmt.Sprintf("coat %s was noted as %s at %.2g× the label's time to %v; by the other touch tests it was more likely %s. If the note is wrong, undo it; if it is right, test again.",
		t.Coat, t.Feel, t.Gained[drying.SetToTouch], drying.SetToTouch, d.Likely)
	l.doubts = append(l.doubts, d)
}
