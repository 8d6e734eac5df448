package learn

import (
	"math"
	"slices"
)

const (
	// unbounded is how many tests of a product may each say all that they say.
	unbounded = 5
	// most is by how much any later one may move the logarithm of the factor of
	// its product, or of its coat: 13 % up, 11 % down.
	most = 0.12
	// halvings are those that find the weight with which a test moves as much.
	halvings = 12
)

// trial is a test that is being counted in, and what is known without it.
type trial struct {
	l       *learner
	p       *product
	c       *coat
	down    *curve
	says    []curve // the logarithm of the test's likelihood, for each node
	known   []curve // that of the coat's other tests
	rest    []curve // the logarithm of what the product's other coats say
	product float64 // where the product's and the coat's factors were before:
	coat    float64 // the means of their logarithms
}

func (l *learner) newTrial(p *product, c *coat, i int) *trial {
	t := &trial{l: l, p: p, c: c, says: make([]curve, len(p.nodes)), known: slices.Clone(c.likelihood), rest: slices.Clone(p.sums)}
	for k, n := range p.nodes {
		touch, tack := p.prior.gained(&l.tests[i], n.off)
		t.says[k].fill(func(x float64) float64 { return math.Log(likelihood(l.tests[i].Feel, x, touch, tack)) })
		t.rest[k].addLog(&c.message[k], -1)
	}
	if p.tests >= unbounded {
		t.down = l.down(p)
		t.product, t.coat = t.means()
	}
	return t
}

// count lets the test say so much of what it says: all at 1, nothing at 0.
func (t *trial) count(weight float64) {
	top := math.Inf(-1)
	for k := range t.says {
		for i, v := range t.says[k] {
			t.c.likelihood[k][i] = t.known[k][i] + weight*v
		}
		top = max(top, t.c.likelihood[k].top())
	}
	for k := range t.says {
		t.c.likelihood[k].add(-top) // one constant that all share: the greatest is 0
		likely := t.c.likelihood[k]
		likely.exp(0)
		t.c.message[k] = *t.l.coatKernel.spread(&likely, true)
		t.p.sums[k] = t.rest[k]
		t.p.sums[k].addLog(&t.c.message[k], 1)
	}
	t.p.add()
}

// bound lets the test say no more than moves its product or its coat by most.
// What it is kept from saying the next one can say, if it agrees.
func (t *trial) bound() {
	if t.within() {
		return
	}
	low, high := 0.0, 1.0 // at low it moves them by less, at high by more
	for range halvings {
		weight := (low + high) / 2
		if t.count(weight); t.within() {
			low = weight
		} else {
			high = weight
		}
	}
	t.count(low)
}

// within reports whether the test, as it counts, moves neither by more than most.
func (t *trial) within() bool {
	product, coat := t.means()
	return math.Abs(product-t.product) <= most && math.Abs(coat-t.coat) <= most
}

// means are those of the logarithms of the product's factor and of the coat's.
func (t *trial) means() (product, coat float64) {
	var sum curve
	own := t.l.own(t.p, t.c, t.down)
	for k := range own {
		sum.plus(&own[k])
	}
	return t.p.belief(t.down).mean, sum.belief().mean
}
