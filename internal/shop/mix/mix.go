// Package mix holds colour recipes: shares by volume or by mass, kept as exact
// fractions, so that a touch-up of a spoonful has the very proportions of the
// tin it must match.
package mix

import (
	"fmt"
	"math/big"
	"regexp"
	"strings"

	"recoat/internal/quantity"
)

// Basis is what the shares of a recipe are shares of.
type Basis string

// The bases. The same shares by volume and by mass are different colours.
const (
	ByVolume Basis = "volume" // amounts are millilitres
	ByMass   Basis = "mass"   // amounts are grams
)

// mostParts is how many ingredients a recipe may have.
const mostParts = 50

// Part is one ingredient, with its share as the recipe counts: "3 of this to 1
// of that".
type Part struct {
	Name  string   `json:"name"`
	Share *big.Rat `json:"share"` // exact, such as "3/2"
}

// Recipe is what goes into a mix.
type Recipe struct {
	Name  string `json:"name"`
	Basis Basis  `json:"basis"`
	Parts []Part `json:"parts"`
}

// shareForm bounds what is read: the exponents that big.Rat also takes could
// ask for gigabytes. Every share that is read can be written as a fraction and
// read again.
var shareForm = regexp.MustCompile(`^([0-9]{1,9}\.[0-9]{1,9}|[0-9]{1,18}(/[0-9]{1,18})?)$`)

// ParseShare reads "3", "1.5" or "3/2", above 0.
func ParseShare(s string) (*big.Rat, error) {
	s = strings.TrimSpace(s)
	if shareForm.MatchString(s) {
		if x, ok := new(big.Rat).SetString(s); ok && x.Sign() > 0 {
			return x, nil
		}
	}
	return nil, fmt.Errorf("%s is not a share: write a number above 0 such as 3, 1.5 or 3/2", quantity.Quote(s))
}

// Check says what is wrong with a recipe.
func (r Recipe) Check() error {
	if r.Basis != ByVolume && r.Basis != ByMass {
		return fmt.Errorf("a recipe goes by volume or by mass, not by %s", quantity.Quote(string(r.Basis)))
	}
	if n := len(r.Parts); n == 0 || n > mostParts {
		return fmt.Errorf("a recipe has 1 to %d ingredients, not %d", mostParts, n)
	}
	seen := map[string]bool{}
	for _, p := range r.Parts {
		switch {
		case p.Name == "":
			return fmt.Errorf("an ingredient has no name: say what it is")
		case seen[p.Name]:
			return fmt.Errorf("%s is there twice: add its shares up", quantity.Quote(p.Name))
		case p.Share == nil || p.Share.Sign() <= 0:
			return fmt.Errorf("%s has no share: write a number above 0 such as 3, 1.5 or 3/2", quantity.Quote(p.Name))
		}
		if _, err := ParseShare(p.Share.RatString()); err != nil {
			return fmt.Errorf("%s: %w", quantity.Quote(p.Name), err)
		}
		seen[p.Name] = true
	}
	return nil
}

// Total is the sum of the shares.
func (r Recipe) Total() *big.Rat {
	sum := new(big.Rat)
	for _, p := range r.Parts {
		sum.Add(sum, p.Share)
	}
	return sum
}

// Scale returns how much of each ingredient makes up an amount of the whole, in
// mL or g as the recipe's basis says. The amounts are exact: they add up to it.
func (r Recipe) Scale(amount *big.Rat) ([]*big.Rat, error) {
	if err := r.Check(); err != nil {
		return nil, err
	}
	if amount == nil || amount.Sign() <= 0 {
		return nil, fmt.Errorf("an amount of nothing cannot be mixed: give one above 0")
	}
	unit := new(big.Rat).Quo(amount, r.Total())
	amounts := make([]*big.Rat, len(r.Parts))
	for i, p := range r.Parts {
		amounts[i] = new(big.Rat).Mul(p.Share, unit)
	}
	return amounts, nil
}

// Limited returns the largest amount of the whole that can be mixed of what
// there is of some ingredients, by name; those not named do not limit it.
func (r Recipe) Limited(have map[string]*big.Rat) (*big.Rat, error) {
	if err := r.Check(); err != nil {
		return nil, err
	}
	var most *big.Rat
	used := 0
	for _, p := range r.Parts {
		there, named := have[p.Name]
		if !named {
			continue
		}
		used++
		if there == nil || there.Sign() <= 0 {
			return nil, fmt.Errorf("there is none of %s: nothing can be mixed", quantity.Quote(p.Name))
		}
		whole := new(big.Rat).Mul(there, new(big.Rat).Quo(r.Total(), p.Share))
		if most == nil || whole.Cmp(most) < 0 {
			most = whole
		}
	}
	if used == 0 || used < len(have) {
		return nil, fmt.Errorf("the recipe has no such ingredient: name those that it has")
	}
	return most, nil
}
