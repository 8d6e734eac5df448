package odour

import (
	"errors"
	"fmt"
	"math"
	"time"

	"recoat/drying"
	"recoat/sensors"
)

// Coat is a coat and the air that it has stood in.
type Coat struct {
	Product drying.Product
	Applied time.Time
	// Air holds air temperatures in order of time. One stands until the next, the
	// first also before it; without any, the label's own stands in.
	Air []Air
	// AirChange is how many times an hour the room's air is renewed, 0 to 50; 0:
	// unknown, half of it is taken.
	AirChange float64
	// Index holds the values of a VOC index in the room, from before the coat was
	// put on, in order of time. Where a decay can be seen in them it takes the
	// place of the kind's.
	Index []Index
}

// Air is an air temperature.
type Air struct {
	At          time.Time
	Temperature sensors.Celsius
}

// Ready is when a piece may have lost the smell of a coat. Low to High is meant
// to hold the truth eight times in ten. A piece with several coats is ready when
// the last of them is, and not before it can be handled.
type Ready struct {
	Likely, Low, High time.Time
	Basis             string // a sentence for a person: what the estimate rests on
}

// usualAirChange is that of the reference room of EN 16516, per hour; from
// memory.
const usualAirChange = 0.5

// mostAirChange is a gale.
const mostAirChange = 50

// spread is the standard deviation of the logarithm of the time until the smell
// is gone. Published models of emission are on average within 30 % of a
// measured concentration and at worst within a factor of 2 (EPA/600/S8-91/013
// and the notes to EPA's wall paint model); a nose is no better. Judgement.
const spread = 0.4

// eightInTen is how many standard deviations to either side hold eight in ten
// of a normal distribution.
const eightInTen = 1.2815515655446004

// Estimate returns when the smell of a coat may be gone, seen from now. What is
// later than now is passed over. It refuses what drying.Product.Complete
// refuses.
func Estimate(c Coat, now time.Time) (Ready, error) {
	if err := c.check(); err != nil {
		return Ready{}, fmt.Errorf("estimate the smell of a coat: %w", err)
	}
	p, err := c.Product.Complete()
	if err != nil {
		return Ready{}, fmt.Errorf("estimate the smell of a coat: %w", err)
	}
	s, err := smellOf(p)
	if err != nil {
		return Ready{}, fmt.Errorf("estimate the smell of a coat: %w", err)
	}
	h, needed := newHistory(&c, p.Stated.Air, now), s.gone(airing(c.AirChange))
	if r, ok := fromIndex(c.Index, c.Applied, now); ok {
		days := math.Ceil(h.after(needed).Sub(c.Applied).Hours() / 24)
		r.Basis += fmt.Sprintf("; by its kind (%s, %s) alone it would take some %.0f d", p.Family, p.Kind, days)
		return r, nil
	}
	wide := math.Exp(eightInTen * spread)
	return Ready{
		Low: h.after(needed / wide), Likely: h.after(needed), High: h.after(needed * wide),
		Basis: fmt.Sprintf("a rough estimate by its kind (%s, %s), %s and %s: a nose close to the piece decides", p.Family, p.Kind, h.basis(), airBasis(c.AirChange)),
	}, nil
}

func (c *Coat) check() error {
	if !(c.AirChange >= 0 && c.AirChange <= mostAirChange) {
		return fmt.Errorf("the air changes %v times an hour: 0 (unknown) to %v would do", c.AirChange, mostAirChange)
	}
	if c.Applied.IsZero() {
		return errors.New("the coat was put on at no time: an instant is needed")
	}
	return nil
}

func airBasis(change float64) string {
	if change == 0 {
		return fmt.Sprintf("%.1f air changes an hour, assumed", usualAirChange)
	}
	return fmt.Sprintf("%.1f air changes an hour", change)
}
