package schedule

import (
	"slices"
	"time"

	"recoat/drying"
)

// Coming is a coat of a part that is still to be put on.
type Coming struct {
	Step  Step
	Place int    // of its step in the schedule, from 1
	Name  string // such as "colour 2 of 2"
	// Before are the steps that lie between the coat before and this one.
	Before []Step
	// Waits are what has to be reached of the coat before in the list, before the
	// steps before this one; of the first coat there are none.
	Waits []Wait
	// Gates are waits for other coats: of other parts, or put on already.
	Gates []Gate
	// Untold are waits that no plan can count, such as "until no smell".
	Untold []string
}

// Gate is a wait for a coat that is not of the list.
type Gate struct {
	Part string // id of the part that the coat is on
	Name string // of that part
	Step Step
	Coat string // id of the coat; empty: it is not on yet
	Wait Wait
}

// Coming returns the coats that are still to come on a part, in order, and the
// steps after the last.
func (p *Part) Coming(parts []Part) (coats []Coming, after []Step) {
	var between []Step
	for at := p.At(); at < len(p.Steps); at++ {
		between = append(between, p.Steps[at])
		if !p.Steps[at].Kind.Coats() {
			continue
		}
		c := Coming{Step: p.Steps[at], Place: at + 1, Name: p.Count(p.Steps[at].ID), Before: between[:len(between)-1]}
		last := 0 // the id of the coat before in the list
		if len(coats) > 0 {
			last = coats[len(coats)-1].Step.ID
		}
		for _, s := range between {
			p.sortWaits(&c, parts, s, last)
		}
		coats, between = append(coats, c), nil
	}
	return coats, between
}

// sortWaits puts each wait of a step where it belongs.
func (p *Part) sortWaits(c *Coming, parts []Part, s Step, last int) {
	for _, w := range s.Waits {
		if w.Until != "" {
			c.Untold = append(c.Untold, s.Title()+" waits until "+w.Until)
		}
		of, place, err := p.target(parts, w)
		if err != nil || place < 0 || w.Stage == nil && w.LeastMin == 0 {
			continue // that the steps follow each other is known
		}
		target := of.Steps[place]
		mark, left := of.Marks[target.ID]
		switch {
		case of == p && target.ID == last:
			c.Waits = append(c.Waits, w)
		case left && mark.Coat == "" || !left && place < of.At():
			// skipped, passed over, or no coat: nothing is waited for
		case of == p && !left:
			c.Untold = append(c.Untold, s.Title()+" also waits for “"+target.Title()+"”, an earlier coat")
		default:
			c.Gates = append(c.Gates, Gate{Part: of.ID, Name: of.Name, Step: target, Coat: mark.Coat, Wait: w})
		}
	}
}

// Ready is when a coat has had what a wait asks for; false: no time can be told.
func (c Coat) Ready(w Wait) (likely time.Time, known bool) {
	likely, _, _, known = c.ready(w)
	return likely, known
}

// Stages are those that waits ask for, each once.
func Stages(waits []Wait) []drying.Stage {
	var out []drying.Stage
	for _, w := range waits {
		if w.Stage != nil && !slices.Contains(out, *w.Stage) {
			out = append(out, *w.Stage)
		}
	}
	return out
}

// Times is how many times as long as to its stages a coat must have had, at the
// most of what waits ask for.
func Times(waits []Wait) float64 {
	most := 1.0
	for _, w := range waits {
		most = max(most, w.Times)
	}
	return most
}

// Least is the longest that a coat must have had in any case by waits.
func Least(waits []Wait) time.Duration {
	var most time.Duration
	for _, w := range waits {
		most = max(most, w.least())
	}
	return most
}
