package learn

import (
	"fmt"
	"math"
	"slices"
	"sort"
)

// Learn draws what can be drawn from the tests, which have to be in the order in
// which they were made. Priors holds one for every product that was tested, by
// its id, and for those that may be asked about.
func Learn(tests []Test, priors map[string]Prior) (*Shop, error) {
	l := &learner{tests: tests, coatKernel: newKernel(coatSpread), products: map[string]*product{}}
	for id, prior := range priors {
		if err := prior.check(); err != nil {
			return nil, fmt.Errorf("learn of product %s: %w", id, err)
		}
		l.ids = append(l.ids, id)
		l.products[id] = newProduct(prior)
	}
	slices.Sort(l.ids)
	for _, t := range tests {
		if err := t.check(); err != nil {
			return nil, fmt.Errorf("learn of product %s: %w", t.Product, err)
		}
		if _, ok := l.products[t.Product]; !ok {
			return nil, fmt.Errorf("learn from the touch test of coat %s: nothing is known of its product %s", t.Coat, t.Product)
		}
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
	for i := range l.tests {
		l.take(i)
	}
	for _, id := range l.ids {
		l.settle(l.products[id])
	}
	sort.Slice(l.doubts, func(i, j int) bool { return l.doubts[i].Index < l.doubts[j].Index })
	return &Shop{products: l.products, tests: len(l.tests), doubts: l.doubts}
}

// take counts one more test in, and takes what its product's tests now say up to
// the shop.
func (l *learner) take(i int) {
	p := l.products[l.tests[i].Product]
	c := p.coat(l.tests[i].Coat)
	t := l.newTrial(p, c, i)
	t.count(1)
	if p.tests >= unbounded {
		t.bound()
	}
	p.tests++
	c.tests = append(c.tests, i)
	l.shop.addLog(&p.message, -1)
	up := p.says
	up.exp(up.top())
	p.message = *p.spread.spread(&up, true)
	l.shop.addLog(&p.message, 1)
}

// settle takes what all others say down to a product and its coats.
func (l *learner) settle(p *product) {
	down := l.down(p)
	p.found = p.belief(down)
	for _, c := range p.coats {
		own := l.own(p, c, down)
		var sum curve
		for k := range own {
			sum.plus(&own[k])
		}
		c.found = sum.belief()
		mass := sum.mass()
		for _, i := range c.tests {
			l.doubt(p, i, own, mass)
		}
	}
	for _, c := range p.coats {
		c.likelihood, c.message = nil, nil // the shop is kept, they are large
	}
}

// down is what all other products, by way of the shop, say of one product's
// factor: the logarithm of a density.
func (l *learner) down(p *product) *curve {
	others := l.shop
	others.addLog(&p.message, -1)
	others.exp(others.top())
	var down curve
	down.addLog(p.spread.spread(&others, false), 1)
	return &down
}

// own returns the density of a coat's own factor for each node, by all tests.
func (l *learner) own(p *product, c *coat, down *curve) []curve {
	all := make([]curve, len(p.nodes))
	for k, n := range p.nodes { // the product's, by all other coats
		all[k] = p.sums[k]
		all[k].addLog(&c.message[k], -1)
		all[k].plus(down)
		all[k].add(math.Log(n.weight))
	}
	expAll(all)
	for k := range all {
		others := l.coatKernel.spread(&all[k], false)
		all[k] = c.likelihood[k]
		all[k].addLog(others, 1)
	}
	expAll(all)
	return all
}
