package main

import (
	"errors"
	"fmt"
	"math/big"
	"strings"
	"text/tabwriter"

	"recoat/drying"
	"recoat/internal/quantity"
	"recoat/internal/shop"
	"recoat/internal/shop/film"
	"recoat/internal/shop/mix"
)

type mixCommand struct {
	Add   mixAddCommand   `cmd:"" help:"Add the recipe of a colour."`
	List  mixListCommand  `cmd:"" help:"Every recipe."`
	Scale mixScaleCommand `cmd:"" help:"How much of each makes up an amount, or a touch-up of an area."`
}

type mixAddCommand struct {
	changeFlags
	Name string           `arg:"" help:"The mix's name."`
	By   string           `required:"" help:"What the shares are shares of: volume or mass." placeholder:"volume|mass"`
	Part []ingredientFlag `required:"" sep:"none" help:"An ingredient and its share, such as 3, 1.5 or 3/2." placeholder:"NAME=SHARE"`
}

type mixListCommand struct {
	journalFlags
}

type mixScaleCommand struct {
	journalFlags
	ID      string      `arg:"" name:"id" help:"The mix's id, such as m-0001."`
	Amount  string      `help:"How much of it: a volume for a recipe by volume, a mass for one by mass." placeholder:"250mL|250g"`
	Area    areaFlag    `help:"Instead of an amount: the area to touch up." placeholder:"0.1m2"`
	Film    filmFlag    `help:"The wet film on it." placeholder:"100um"`
	Density densityFlag `help:"Of the mix, for a recipe by mass." placeholder:"1.2g/mL"`
}

// ingredientFlag takes "black=1/3".
type ingredientFlag mix.Part

func (f *ingredientFlag) UnmarshalText(text []byte) error {
	name, share, ok := strings.Cut(string(text), "=")
	if !ok {
		return fmt.Errorf("%s has no share: write an ingredient as NAME=SHARE, such as black=1/3", quantity.Quote(string(text)))
	}
	var err error
	f.Name = name
	f.Share, err = mix.ParseShare(share)
	return err
}

// Run adds a mix.
func (c *mixAddCommand) Run(s *session) error {
	recipe := mix.Recipe{Name: c.Name, Basis: mix.Basis(c.By)}
	for _, p := range c.Part {
		recipe.Parts = append(recipe.Parts, mix.Part(p))
	}
	return c.with(s, func(_ config, j *shop.Journal) error {
		m, err := j.AddMix(c.tapped(s), recipe, s.now())
		if err != nil {
			return err
		}
		if c.JSON {
			return writeJSON(s.stdout, m)
		}
		printMix(s, m)
		return nil
	})
}

func printMix(s *session, m shop.Mix) {
	parts := make([]string, len(m.Parts))
	for i, p := range m.Parts {
		parts[i] = p.Share.RatString() + " " + p.Name
	}
	fmt.Fprintf(s.stdout, "%s  %s, by %s: %s\n", m.ID, m.Name, m.Basis, strings.Join(parts, ", "))
}

// Run lists the mixes.
func (c *mixListCommand) Run(s *session) error {
	return c.with(s, func(_ config, j *shop.Journal) error {
		mixes, err := j.Mixes(s.ctx)
		if err != nil {
			return err
		}
		if c.JSON {
			return writeJSON(s.stdout, append([]shop.Mix{}, mixes...))
		}
		if len(mixes) == 0 {
			fmt.Fprintln(s.stdout, "No mix yet: recoat mix add NAME --by volume --part NAME=SHARE adds one.")
		}
		for _, m := range mixes {
			printMix(s, m)
		}
		return nil
	})
}

// scaledReport is a mix in an amount; of the two units one is the recipe's.
type scaledReport struct {
	Mix   string         `json:"mix"`
	Name  string         `json:"name"`
	ML    *float64       `json:"amount_ml,omitempty"`
	G     *float64       `json:"amount_g,omitempty"`
	Parts []scaledAmount `json:"parts"`
}

type scaledAmount struct {
	Name  string   `json:"name"`
	ML    *float64 `json:"amount_ml,omitempty"`
	G     *float64 `json:"amount_g,omitempty"`
	Exact string   `json:"exact"` // the same as a fraction
}

// Run says how much of each ingredient an amount takes.
func (c *mixScaleCommand) Run(s *session) error {
	return c.with(s, func(_ config, j *shop.Journal) error {
		m, err := j.Mix(s.ctx, c.ID)
		if err != nil {
			return err
		}
		whole, err := c.whole(m.Basis)
		if err != nil {
			return usage{err}
		}
		amounts, err := m.Scale(whole)
		if err != nil {
			return usage{err}
		}
		if c.JSON {
			return writeJSON(s.stdout, reportScaled(m, whole, amounts))
		}
		return printScaled(s, m, whole, amounts)
	})
}

// whole is how much is wanted, in the unit of the basis.
func (c *mixScaleCommand) whole(basis mix.Basis) (*big.Rat, error) {
	var amount float64
	var err error
	switch {
	case (c.Amount == "") == (c.Area == 0):
		return nil, errors.New("give either --amount, such as 250mL, or --area with --film for a touch-up")
	case c.Amount != "" && basis == mix.ByMass:
		amount, err = quantity.ParseMass(c.Amount)
	case c.Amount != "":
		amount, err = quantity.ParseVolume(c.Amount)
	default:
		amount, err = c.touchUp(basis)
	}
	if err != nil {
		return nil, err
	}
	const perUnit = 1e6 // what is finer than a millionth of a drop is not wanted
	return big.NewRat(int64(amount*perUnit+0.5), perUnit), nil
}

// touchUp is what an area takes, with nothing lost.
func (c *mixScaleCommand) touchUp(basis mix.Basis) (float64, error) {
	if c.Film == 0 {
		return 0, errors.New("--area needs --film, such as 100um")
	}
	ml, err := film.Needed(drying.Microns(c.Film), film.SquareMetres(c.Area), 1)
	if err != nil || basis == mix.ByVolume {
		return float64(ml), err
	}
	if c.Density == 0 {
		return 0, errors.New("the recipe goes by mass: --area needs --density too, such as 1.2g/mL")
	}
	g, err := film.Mass(ml, film.Density(c.Density))
	return float64(g), err
}

// decimals is how finely amounts are shown: a scale or a syringe tells no more.
const decimals = 2

func reportScaled(m shop.Mix, whole *big.Rat, amounts []*big.Rat) scaledReport {
	show := func(x *big.Rat) (ml, g *float64) {
		v, _ := x.Float64()
		if m.Basis == mix.ByMass {
			return nil, places(v, decimals)
		}
		return places(v, decimals), nil
	}
	r := scaledReport{Mix: m.ID, Name: m.Name}
	r.ML, r.G = show(whole)
	for i, p := range m.Parts {
		a := scaledAmount{Name: p.Name, Exact: amounts[i].RatString()}
		a.ML, a.G = show(amounts[i])
		r.Parts = append(r.Parts, a)
	}
	return r
}

func printScaled(s *session, m shop.Mix, whole *big.Rat, amounts []*big.Rat) error {
	unit := "mL"
	if m.Basis == mix.ByMass {
		unit = "g"
	}
	w := tabwriter.NewWriter(s.stdout, 0, 0, 2, ' ', tabwriter.AlignRight)
	for i, p := range m.Parts {
		fmt.Fprintf(w, "%s\t%s %s\t\n", p.Name, amounts[i].FloatString(decimals), unit)
	}
	fmt.Fprintf(w, "%s\t%s %s\t\n", m.Name, whole.FloatString(decimals), unit)
	return w.Flush()
}
