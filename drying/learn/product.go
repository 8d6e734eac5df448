package learn

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// The nodes stand for how far off a product's times are where the label does
// not give them: every half standard deviation up to three.
const (
	nodeStep = 0.5
	nodeEnd  = 3.0
)

// node is one of them, in standard deviations, and its share of the probability.
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
	// likelihood is that of the coat's own factor, as a logarithm, and message
	// what it says of the product's, for each node.
	likelihood, message []curve
	found               belief
}

// product is one product and what its coats say of it.
type product struct {
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

func newProduct(prior Prior) *product {
	nodes := prior.nodes()
	p := &product{prior: prior, nodes: nodes, spread: newKernel(prior.Spread), sums: make([]curve, len(nodes))}
	p.message.fill(one)
	return p
}

// one is what those say who know nothing.
func one(float64) float64 { return 1 }

// coat returns one coat of the product, a new one if it was not tested before.
func (p *product) coat(name string) *coat {
	for _, c := range p.coats {
		if c.name == name {
			return c
		}
	}
	c := &coat{name: name, likelihood: make([]curve, len(p.nodes)), message: make([]curve, len(p.nodes))}
	for k := range c.message {
		c.message[k].fill(one)
	}
	p.coats = append(p.coats, c)
	return c
}

// add takes the nodes together into what all coats say.
func (p *product) add() {
	terms := make([]float64, len(p.nodes))
	for i := range p.says {
		for k, n := range p.nodes {
			terms[k] = math.Log(n.weight) + p.sums[k][i]
		}
		p.says[i] = floats.LogSumExp(terms)
	}
}

// belief is what is known of the product, with what all others say of it.
func (p *product) belief(down *curve) belief {
	whole := p.says
	whole.plus(down)
	whole.exp(whole.top())
	return whole.belief()
}
