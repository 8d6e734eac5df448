package learn

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// nodes are the values, in standard deviations, that stand for how far off a
// product's times are where the label does not give them.
const (
	nodeStep = 0.5
	nodeEnd  = 3.0
)

// node is one of them, with its share of the probability.
type node struct{ off, weight float64 }

func (p Prior) nodes() []node {
	if p.Touch == 0 && p.Tack == 0 {
		return []node{{0, 1}}
	}
	var all []node
	sum := 0.0
	for off := -nodeEnd; off <= nodeEnd; off += nodeStep {
		w := math.Exp(-off * off / 2)
		all = append(all, node{off, w})
		sum += w
	}
	for i := range all {
		all[i].weight /= sum
	}
	return all
}

// coat is one coat and what its tests say of it.
type coat struct {
	name  string
	tests []int // by place in Learn's tests
	// likelihood of the coat's own factor, and what it says of the product's,
	// for each node.
	likelihood, message []curve
	found               belief
}

// product is one product and what its coats say of it.
type product struct {
	id     string
	prior  Prior
	nodes  []node
	spread kernel
	coats  []*coat
	tests  int
	// sums holds the logarithms of what all coats say, for each node.
	sums []curve
	// says is what they say of the product's factor whatever the node, as a
	// logarithm, and message what that says of the shop's.
	says, message curve
	found         belief
}

// belief is what is known of a factor: mean and variance of its logarithm.
type belief struct{ mean, variance float64 }

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

func newProduct(id string, prior Prior) *product {
	nodes := prior.nodes()
	return &product{id: id, prior: prior, nodes: nodes, spread: newKernel(prior.Spread), sums: make([]curve, len(nodes))}
}

func (p *product) add(name string, test int) {
	p.tests++
	for _, c := range p.coats {
		if c.name == name {
			c.tests = append(c.tests, test)
			return
		}
	}
	p.coats = append(p.coats, &coat{name: name, tests: []int{test}})
}

// learner holds what is passed between the effects, which form a tree: from
// tests up to coats, products and the shop, and back down. On a tree that gives
// each its exact distribution given all tests.
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
			message := l.coatKernel.spread(&c.likelihood[k], true)
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

// likelihood returns that of a coat's factor for each node, up to one factor
// that all share.
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
		all[k].exp(top)
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
	}
}

// settleCoat finds a coat's own factor and which of its tests do not fit.
func (l *learner) settleCoat(p *product, c *coat, down *curve) {
	from := make([]curve, len(p.nodes)) // what all but the coat's tests say of the product
	top := math.Inf(-1)
	for k, n := range p.nodes {
		from[k] = p.sums[k]
		from[k].addLog(&c.message[k], -1)
		from[k].addLog(down, 1)
		from[k].add(math.Log(n.weight))
		top = max(top, from[k].top())
	}
	var whole curve
	for k := range from {
		from[k].exp(top)
		from[k] = *l.coatKernel.spread(&from[k], false)
		from[k].times(&c.likelihood[k])
		whole.plus(&from[k])
	}
	c.found = whole.belief()
	mass := whole.mass()
	for _, i := range c.tests {
		l.doubt(p, i, from, mass)
	}
}
