package drying

import (
	"fmt"
)

// Learnt is what touch tests taught of a product in one shop. Its zero value
// says that nothing was learnt.
type Learnt struct {
	// Factor multiplies the label time of every stage, 0.1 to 10; 0 counts as 1.
	// It cannot put a recoat window off, only bring its end nearer.
	Factor float64
	// Sigma is the standard deviation of the logarithm of a coat's own factor
	// about Factor, 0 to 2. With Tests above zero it takes the place of what the
	// family's law is good to near the label's conditions.
	Sigma float64
	Tests int
}

func (l Learnt) check() error {
	if l.Factor != 0 && !(l.Factor >= 0.1 && l.Factor <= 10) {
		return fmt.Errorf("the learnt factor is %v: 0.1 to 10 would do", l.Factor)
	}
	if !(l.Sigma >= 0 && l.Sigma <= 2) {
		return fmt.Errorf("the learnt sigma is %v: 0 to 2 would do", l.Sigma)
	}
	return nil
}

func (l Learnt) factor() float64 {
	if l.Factor == 0 {
		return 1
	}
	return l.Factor
}

// variance replaces the square of the law's spread. What the law adds away
// from the label's conditions stays: tests there were hardly made.
func (l Learnt) variance(spread, atLabel float64) float64 {
	if l.Tests <= 0 {
		return spread * spread
	}
	return l.Sigma*l.Sigma + max(spread*spread-atLabel*atLabel, 0)
}
