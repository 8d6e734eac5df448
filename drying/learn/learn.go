package learn

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// Learn draws what can be drawn from the tests. Priors holds one for every
// product that was tested, by its id, and for those that may be asked about. The
// tests may come in any order.
func Learn(tests []Test, priors map[string]Prior) (*Shop, error) {
	l := &learner{tests: tests, coatKernel: newKernel(coatSpread), products: map[string]*product{}}
	for id, prior := range priors {
		if err := prior.check(); err != nil {
			return nil, fmt.Errorf("learn of product %s: %w", id, err)
		}
		l.ids = append(l.ids, id)
		l.products[id] = newProduct(id, prior)
	}
	slices.Sort(l.ids)
	for i, t := range tests {
		if err := t.check(); err != nil {
			return nil, fmt.Errorf("learn of product %s: %w", t.Product, err)
		}
		p, ok := l.products[t.Product]
		if !ok {
			return nil, fmt.Errorf("learn from the touch test of coat %s: nothing is known of its product %s", t.Coat, t.Product)
		}
		p.add(t.Coat, i)
	}
	return l.learn(), nil
}

// learner holds what is passed between the effects, which form a tree: from
// tests up to coats, products and the shop, and back down. On a tree that gives
// each its distribution given all tests, exact but for the grid.
type learner struct {
	tests      []Test
	ids        []string // of products, sorted
	products   map[string]*product
	coatKernel kernel
	shop       curve // logarithm of the density of the shop's effect
	doubts     []Doubt
}

func (l *learner) learn() *Shop {
	l.shop.fill(func(x float64) float64 { return -x * x / (2 * shopSpread * shopSpread) })
	for _, id := range l.ids {
		if p := l.products[id]; p.tests > 0 {
			l.gather(p)
			l.shop.addLog(&p.message, 1)
		}
	}
	for _, id := range l.ids {
		l.settle(l.products[id])
	}
	slices.SortFunc(l.doubts, func(a, b Doubt) int { return a.Index - b.Index })
	return &Shop{products: l.products, tests: len(l.tests), doubts: l.doubts}
}

// gather takes what a product's tests say up to the shop.
func (l *learner) gather(p *product) {
	for _, c := range p.coats {
		c.likelihood = l.likelihood(p, c)
		for k := range p.nodes {
			likely := c.likelihood[k]
			likely.exp(0)
			message := l.coatKernel.spread(&likely, true)
			c.message = append(c.message, *message)
			p.sums[k].addLog(message, 1)
		}
	}
	terms := make([]float64, len(p.nodes))
	for i := range p.says {
		for k, n := range p.nodes {
			terms[k] = math.Log(n.weight) + p.sums[k][i]
		}
		p.says[i] = floats.LogSumExp(terms)
	}
	up := p.says
	up.exp(up.top())
	p.message = *p.spread.spread(&up, true)
}

// likelihood returns the logarithm of that of a coat's factor for each node, up
// to one constant that all share: the greatest is 0.
func (l *learner) likelihood(p *product, c *coat) []curve {
	all := make([]curve, len(p.nodes))
	top := math.Inf(-1)
	for k, n := range p.nodes {
		all[k].fill(func(x float64) float64 {
			sum := 0.0
			for _, i := range c.tests {
				touch, tack := p.prior.gained(&l.tests[i], n.off)
				sum += math.Log(likelihood(l.tests[i].Feel, x, touch, tack))
			}
			return sum
		})
		top = max(top, all[k].top())
	}
	for k := range all {
		all[k].add(-top)
	}
	return all
}

// settle takes what all others say down to a product and its coats.
func (l *learner) settle(p *product) {
	others := l.shop
	if p.tests > 0 {
		others.addLog(&p.message, -1)
	}
	others.exp(others.top())
	down := p.spread.spread(&others, false)
	whole := p.says
	whole.addLog(down, 1)
	whole.exp(whole.top())
	p.found = whole.belief()
	for _, c := range p.coats {
		l.settleCoat(p, c, down)
		c.likelihood, c.message = nil, nil // the shop is kept, they are large
	}
}

// settleCoat finds a coat's own factor and which of its tests do not fit.
func (l *learner) settleCoat(p *product, c *coat, down *curve) {
	whole := l.without(p, c, down)
	for k := range whole {
		spread := l.coatKernel.spread(&whole[k], false)
		whole[k] = c.likelihood[k]
		whole[k].addLog(spread, 1)
	}
	expAll(whole)
	var sum curve
	for k := range whole {
		sum.plus(&whole[k])
	}
	c.found = sum.belief()
	mass := sum.mass()
	for _, i := range c.tests {
		l.doubt(p, i, whole, mass)
	}
}

// without returns the density of a product's factor for each node by all tests
// but those of one coat.
func (l *learner) without(p *product, c *coat, down *curve) []curve {
	all := make([]curve, len(p.nodes))
	for k, n := range p.nodes {
		all[k] = p.sums[k]
		all[k].addLog(&c.message[k], -1)
		all[k].addLog(down, 1)
		all[k].add(math.Log(n.weight))
	}
	expAll(all)
	return all
}
