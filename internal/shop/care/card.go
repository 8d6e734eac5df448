package care

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"recoat/drying"
	"recoat/internal/shop"
	"recoat/internal/shop/mix"
	"recoat/internal/shop/schedule"
)

// Card is the document of one piece.
type Card struct {
	Piece     string    `json:"piece"`
	Made      time.Time `json:"made"`
	Delivered time.Time `json:"delivered,omitzero"` // zero: it is not
	Parts     []Part    `json:"parts"`
	Cure      Cure      `json:"cure"`
	Until     []string  `json:"until_cured"`
	After     []string  `json:"always"`
	TouchUps  []TouchUp `json:"touch_up"`
	Cautions  []string  `json:"cautions"`
	Unknown   []string  `json:"not_known"`
	First     string    `json:"first"` // what comes before all of it
}

// Part is what lies on one part, from the wood up.
type Part struct {
	Name     string  `json:"name"`
	Material string  `json:"material"` // empty: not known
	Layers   []Layer `json:"layers"`   // none: nothing was recorded
}

// Layer is one coat.
type Layer struct {
	Product string    `json:"product"`
	Sort    string    `json:"sort"` // in words, such as "water-based, acrylic"
	Applied time.Time `json:"applied"`
	Mix     string    `json:"mix"` // the name of its colour, or what was mixed; empty: none
}

// Cure is when the piece may be used as any other.
type Cure struct {
	Known     bool      `json:"known"`
	Done      bool      `json:"done"` // it is cured, by the model, at its late end too
	Likely    time.Time `json:"likely,omitzero"`
	Low       time.Time `json:"low,omitzero"`
	High      time.Time `json:"high,omitzero"` // what to go by
	StatedMin float64   `json:"stated_min"`    // of the coat that takes longest, by its label
	Assumed   bool      `json:"assumed"`       // no label gives it: it is what is usual for the kind
	ByLabel   bool      `json:"by_label"`      // the room was not measured
	Text      string    `json:"text"`
}

// TouchUp is how much of each ingredient makes a small amount of a colour.
type TouchUp struct {
	Name   string       `json:"name"`
	Amount string       `json:"amount"` // of the whole, such as "50 mL"
	Parts  []Ingredient `json:"parts"`
}

// Ingredient is one of a mix.
type Ingredient struct {
	Name   string `json:"name"`
	Share  string `json:"share"`  // exact, such as "3/2"
	Amount string `json:"amount"` // such as "12.5 mL", to a tenth
}

// Story is what a card is made of.
type Story struct {
	Piece shop.Piece
	Coats []shop.Coat // of the piece; those undone are left out
	Look  schedule.Look
	Mixes []shop.Mix // those of the coats
	Now   time.Time
}

// New makes the card of a piece as it is now.
func New(s Story) Card {
	s.Coats = slices.DeleteFunc(slices.Clone(s.Coats), func(c shop.Coat) bool { return !c.Undone.IsZero() })
	c := Card{
		Piece: s.Piece.Name, Made: s.Now, Delivered: s.Piece.Delivered, First: labelFirst,
		Parts: []Part{}, Until: young(), After: always(s.Coats), TouchUps: []TouchUp{}, Cautions: cautions(s.Coats), Unknown: []string{},
	}
	for _, p := range s.Piece.Parts {
		part := s.part(p)
		if len(part.Layers) == 0 {
			c.Unknown = append(c.Unknown, "What is on the part “"+p.Name+"” was not recorded.")
		}
		c.Parts = append(c.Parts, part)
	}
	for _, m := range s.Mixes {
		c.TouchUps = append(c.TouchUps, touchUp(m))
	}
	c.Cure = s.cure()
	c.Unknown = append(c.Unknown, "What lay on the piece before the first coat named here was not recorded.", "Nothing here says that a finish is safe for food, or for toys that are chewed: only its label can.")
	return c
}

func (s Story) part(p shop.Part) Part {
	part := Part{Name: p.Name, Material: p.Material, Layers: []Layer{}}
	for _, c := range s.Coats {
		if c.Part.ID != p.ID {
			continue
		}
		layer := Layer{Product: c.Product.Label.Name, Sort: Sort(c.Product.Label), Applied: c.Applied, Mix: c.Mix}
		for _, m := range s.Mixes {
			if m.ID == c.Recipe {
				layer.Mix = m.Name
			}
		}
		part.Layers = append(part.Layers, layer)
	}
	return part
}

// Sort is what a product is, in words for somebody who never saw its label.
func Sort(p drying.Product) string {
	family := map[drying.Family]string{
		drying.Waterborne: "water-based", drying.Solvent: "dries by its solvent alone", drying.Oxidising: "oil-based",
		drying.TwoPart: "two-part", drying.MoistureCuring: "cures with moisture",
	}[p.Family]
	return strings.Trim(family+", "+p.Kind, ", ")
}

// touchUpOf is how much a touch-up is made of, in mL or g: a jar of it keeps.
const touchUpOf = 50

func touchUp(m shop.Mix) TouchUp {
	unit := "mL"
	if m.Basis == mix.ByMass {
		unit = "g"
	}
	t := TouchUp{Name: m.Name, Amount: fmt.Sprintf("%d %s", touchUpOf, unit), Parts: []Ingredient{}}
	amounts, err := m.Scale(rat(touchUpOf))
	if err != nil {
		return t // a mix that the journal keeps can be scaled
	}
	for i, p := range m.Parts {
		t.Parts = append(t.Parts, Ingredient{p.Name, p.Share.RatString(), amounts[i].FloatString(1) + " " + unit})
	}
	return t
}
