package plan

import (
	"slices"
	"time"
)

// WhatIf is a plan with something changed, against the plan without.
type WhatIf struct {
	Change  Change
	Verdict Verdict
	Chain   Chain
	// Saved is how much earlier the chain is done, in the middle of the members
	// in which it is done both ways; negative: later. Compared is the share of
	// those members: with few of them, Saved says little.
	Saved    time.Duration
	Compared float64
}

// Comparable reports whether Saved speaks for at least half of the members.
func (w WhatIf) Comparable() bool { return w.Compared >= 0.5 }

// WhatIf plans a chain of the planner's again from the same start, with a change
// in place of the planner's own. Each member keeps its course and its error, so that nothing but the
// change makes the difference.
func (p *Planner) WhatIf(c Change, before Chain) (WhatIf, error) {
	s := p.setup
	s.Change = c
	other, err := New(s)
	if err != nil {
		return WhatIf{}, err
	}
	w := WhatIf{Change: c, Verdict: other.Verdict(before.Start), Chain: other.Chain(before.Start)}
	var saved []time.Duration
	for m, done := range before.done {
		if sooner := w.Chain.done[m]; done != never && sooner != never {
			saved = append(saved, done-sooner)
		}
	}
	if len(saved) > 0 {
		slices.Sort(saved)
		w.Saved = quantile(saved, 0.5)
	}
	w.Compared = share(len(saved), p.members())
	return w, nil
}
