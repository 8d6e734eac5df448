package learn

import (
	"fmt"
	"math"
	"slices"

	"recoat/drying"
)

// Shop is what the touch tests of one shop taught.
type Shop struct {
	products map[string]*product
	tests    int
	doubts   []Doubt
}

// Product returns what was learnt of a product: the factor of a usual coat, and
// how far a coat may be from it. Without a test of its own, a product takes on
// part of what the others say of the shop; Tests is then 0. Of an unknown
// product, or without any test, nothing was learnt.
func (s *Shop) Product(id string) drying.Learnt {
	p, ok := s.products[id]
	if !ok || s.tests == 0 {
		return drying.Learnt{}
	}
	return p.found.learnt(coatSpread*coatSpread, p.tests)
}

// Coat returns what was learnt of one coat, whose own tests say most of it. A
// coat that was not tested is like any of its product.
func (s *Shop) Coat(product, name string) drying.Learnt {
	if p, ok := s.products[product]; ok {
		for _, c := range p.coats {
			if c.name == name {
				return c.found.learnt(0, p.tests)
			}
		}
	}
	return s.Product(product)
}

// Doubts returns the tests that do not fit the others, in the order in which
// they were given to Learn.
func (s *Shop) Doubts() []Doubt { return slices.Clone(s.doubts) }

func (b belief) learnt(besides float64, tests int) drying.Learnt {
	return drying.Learnt{Factor: math.Exp(b.mean), Sigma: math.Sqrt(b.variance + besides), Tests: tests}
}

// Sentence says for a person what was learnt of a product that goes by a name.
func (s *Shop) Sentence(id, name string) string {
	l := s.Product(id)
	switch {
	case l.Factor == 0:
		return fmt.Sprintf("no touch test says how long %s takes in your shop: the label's times stand", name)
	case l.Tests == 0:
		return fmt.Sprintf("no touch test of %s yet: by your other products it is taken to need %s", name, times(l.Factor))
	}
	width := math.Exp(eightInTen * l.Sigma)
	return fmt.Sprintf("in your shop %s takes %s, from %s (a coat may need from %.1f× to %.1f×)",
		name, times(l.Factor), count(l.Tests), l.Factor/width, l.Factor*width)
}

func times(factor float64) string {
	if shown := fmt.Sprintf("%.1f", factor); shown != "1.0" {
		return shown + "× the label's time"
	}
	return "the label's time"
}

func count(tests int) string {
	if tests == 1 {
		return "1 touch test"
	}
	return fmt.Sprintf("%d touch tests", tests)
}
