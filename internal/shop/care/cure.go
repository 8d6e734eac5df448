package care

import (
	"fmt"
	"math/big"
	"time"

	"recoat/drying"
	"recoat/internal/shop"
)

func rat(n int64) *big.Rat { return big.NewRat(n, 1) }

// cure is when the last of the newest coats of the parts is cured: under it the
// older ones go on curing too, but each of them began before.
func (s Story) cure() Cure {
	newest := map[string]shop.Coat{}
	for _, c := range s.Coats {
		if old, ok := newest[c.Part.ID]; !ok || !c.Applied.Before(old.Applied) {
			newest[c.Part.ID] = c
		}
	}
	if len(newest) == 0 {
		return Cure{Text: "No coat was recorded, so nothing can be said of when it is cured."}
	}
	all := Cure{Known: true, Done: true}
	for _, p := range s.Piece.Parts {
		if c, ok := newest[p.ID]; ok {
			all.take(s.of(c))
		}
	}
	all.Done = all.Known && !all.High.After(s.Now)
	all.Text = all.words(s.Now.Location())
	return all
}

// of is when one coat is cured, and whether its room was measured.
func (s Story) of(c shop.Coat) (one Cure) {
	one.StatedMin = c.Product.Label.Stated.Times[drying.Cured].Minutes()
	one.Assumed = c.Product.Label.IsAssumed(drying.Cured.LabelKey())
	coat, ok := s.Look(c.ID)
	if !ok {
		return one
	}
	one.ByLabel = coat.ByLabel
	for _, e := range coat.Estimates {
		if e.Stage == drying.Cured && !e.Likely.IsZero() && !e.High.IsZero() {
			one.Known, one.Likely, one.Low, one.High = true, e.Likely, e.Low, e.High
		}
	}
	return one
}

// take makes all as late as one of its coats.
func (all *Cure) take(one Cure) {
	all.Known = all.Known && one.Known
	all.ByLabel = all.ByLabel || one.ByLabel
	if one.StatedMin >= all.StatedMin {
		all.StatedMin, all.Assumed = one.StatedMin, one.Assumed
	}
	all.Likely, all.Low, all.High = later(all.Likely, one.Likely), later(all.Low, one.Low), later(all.High, one.High)
	if !all.Known {
		all.Likely, all.Low, all.High = time.Time{}, time.Time{}, time.Time{}
	}
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// words says it to the buyer. "About 30 days in a warm room" is common practice,
// no source: no figure for the full cure of furniture coats was found in a
// standard.
func (all Cure) words(in *time.Location) string {
	const form = "2 January 2006"
	stated := "Its label gives " + days(all.StatedMin) + " to full hardness"
	if all.Assumed {
		stated = "No label gives a time to full hardness; " + days(all.StatedMin) + " is usual for its kind, and about 30 days in a warm room is common practice"
	}
	switch {
	case all.Done:
		return "It is cured as far as can be reckoned, since about " + all.Likely.In(in).Format(form) + "."
	case !all.Known:
		return stated + ". When it is reached cannot be told yet; a cold room takes longer."
	}
	text := fmt.Sprintf("Treat it as not yet cured until %s; likely it is from %s on. %s.", all.High.In(in).Format(form), all.Likely.In(in).Format(form), stated)
	if all.ByLabel {
		text += " The room was not measured: the date goes by the label alone."
	}
	return text + " A cold room takes longer."
}

func days(minutes float64) string {
	n := int(minutes/(24*60) + 0.5)
	if n <= 1 {
		return "about a day"
	}
	return fmt.Sprintf("%d days", n)
}
