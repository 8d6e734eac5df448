package mix

import (
	"math/big"
	"math/rand/v2"
	"strings"
	"testing"
)

func rat(s string) *big.Rat {
	x, ok := new(big.Rat).SetString(s)
	if !ok {
		panic(s)
	}
	return x
}

// grey is three parts, one and a half, and a third of one: 29/6 in all.
func grey() Recipe {
	return Recipe{Name: "Harbour grey", Basis: ByVolume, Parts: []Part{
		{"base", rat("3")}, {"white", rat("3/2")}, {"black", rat("1/3")},
	}}
}

func TestScaleIsExact(t *testing.T) {
	amounts, err := grey().Scale(rat("250"))
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []string{"4500/29", "2250/29", "500/29"} {
		if amounts[i].Cmp(rat(want)) != 0 {
			t.Errorf("%s: %s, want %s", grey().Parts[i].Name, amounts[i], want)
		}
	}
}

// Whatever the recipe and the amount, nothing is lost and every proportion
// holds, where floating point would drift.
func TestScaledAmountsAddUpAndKeepTheirProportions(t *testing.T) {
	random := rand.New(rand.NewPCG(4, 2))
	for range 200 {
		r := Recipe{Basis: ByMass}
		for i := range 1 + random.IntN(8) {
			r.Parts = append(r.Parts, Part{string(rune('a' + i)), big.NewRat(1+random.Int64N(1e6), 1+random.Int64N(1e6))})
		}
		whole := big.NewRat(1+random.Int64N(1e6), 1+random.Int64N(1e3))
		amounts, err := r.Scale(whole)
		if err != nil {
			t.Fatal(err)
		}
		sum := new(big.Rat)
		for i, a := range amounts {
			sum.Add(sum, a)
			left, right := new(big.Rat).Mul(a, r.Parts[0].Share), new(big.Rat).Mul(amounts[0], r.Parts[i].Share)
			if left.Cmp(right) != 0 {
				t.Fatalf("%v: the proportion of %d is lost", r, i)
			}
		}
		if sum.Cmp(whole) != 0 {
			t.Fatalf("%v of %s adds up to %s", r, whole, sum)
		}
	}
}

func TestLimited(t *testing.T) {
	most, err := grey().Limited(map[string]*big.Rat{"white": rat("15"), "black": rat("10")})
	if err != nil || most.Cmp(rat("145/3")) != 0 { // 15 of white is 15 / (3/2) · 29/6
		t.Errorf("%s, %v", most, err)
	}
	amounts, err := grey().Scale(most)
	if err != nil || amounts[1].Cmp(rat("15")) != 0 || amounts[2].Cmp(rat("10")) > 0 {
		t.Errorf("%v, %v", amounts, err)
	}
	for says, have := range map[string]map[string]*big.Rat{
		`there is none of "black"`: {"black": new(big.Rat)},
		"no such ingredient":       {"black": rat("1"), "blue": rat("1")},
		"the recipe has no such":   {},
	} {
		if _, err := grey().Limited(have); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%v; want %s", err, says)
		}
	}
}

func TestParseShare(t *testing.T) {
	for text, want := range map[string]string{"3": "3", " 1.5 ": "3/2", "3/2": "3/2", "0.333333333": "333333333/1000000000", "6/4": "3/2", "999999999999999999": "999999999999999999", "999999999.999999999": "999999999999999999/1000000000"} {
		got, err := ParseShare(text)
		if err != nil || got.Cmp(rat(want)) != 0 {
			t.Errorf("%q: %s, %v", text, got, err)
			continue
		}
		if again, err := ParseShare(got.RatString()); err != nil || again.Cmp(got) != 0 {
			t.Errorf("%q: written and read again it is %s, %v", text, again, err)
		}
	}
	for _, text := range []string{"", "0", "0/3", "3/0", "-1", "+1", "1e9", "1e999999999", ".5", "5.", "1,5", "0x10", "1_0", "3/2/1", "1.5/2", "9999999999999999999", "half", strings.Repeat("9", 1000)} {
		if got, err := ParseShare(text); err == nil || !strings.Contains(err.Error(), "write a number above 0") {
			t.Errorf("%q: %s, %v", text, got, err)
		}
	}
}

func TestWhatIsNoRecipe(t *testing.T) {
	for says, change := range map[string]func(*Recipe){
		`not by "taste"`:           func(r *Recipe) { r.Basis = "taste" },
		"1 to 50 ingredients":      func(r *Recipe) { r.Parts = nil },
		"not 51":                   func(r *Recipe) { r.Parts = make([]Part, 51) },
		"has no name":              func(r *Recipe) { r.Parts[1].Name = "" },
		`"base" is there twice`:    func(r *Recipe) { r.Parts[1].Name = "base" },
		`"white" has no share`:     func(r *Recipe) { r.Parts[1].Share = nil },
		`"base": "1/1`:             func(r *Recipe) { r.Parts[0].Share = rat("1e-30") },
		`"black" has no share: wr`: func(r *Recipe) { r.Parts[2].Share = rat("-1") },
	} {
		r := grey()
		change(&r)
		if _, err := r.Scale(rat("1")); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%v; want %s", err, says)
		}
	}
	for _, amount := range []*big.Rat{nil, new(big.Rat), rat("-5")} {
		if _, err := grey().Scale(amount); err == nil || !strings.Contains(err.Error(), "amount of nothing") {
			t.Errorf("%v: %v", amount, err)
		}
	}
}
