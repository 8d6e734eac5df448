package compat

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"recoat/internal/quantity"
)

// Meeting is one layer about to be put over another.
type Meeting struct {
	Below, Above Layer
	Since        time.Duration // since Below was put on; 0: not known
	Abraded      bool          // Below was
}

// Advice is what the finisher should know of a meeting. It never forbids.
type Advice struct {
	Do          Measures   `json:"do"` // what is still to be done; OK alone: nothing
	Text        string     `json:"text"`
	Reason      Reason     `json:"reason"`
	Confidence  Confidence `json:"confidence"` // empty: the label's own word, or no rule
	Source      string     `json:"source"`
	WaitMinutes float64    `json:"wait_min"` // since the lower one was put on; 0: none that a clock can tell
}

// Warns reports whether there is anything left to do or to think of.
func (a Advice) Warns() bool { return a.Do != OK }

// Asks reports whether going on deserves a note that says why.
func (a Advice) Asks() bool { return a.Do.Has(Avoid) }

// Table holds the rules.
type Table struct{ rules []Rule }

// NewTable returns the rules that are known, with the finisher's own before
// them, so that these count where both speak.
func NewTable(own ...Rule) Table { return Table{append(slices.Clone(own), rules()...)} }

// Check says what is known of a meeting: the label's window first, then what
// the rules say, or that there is none. Where a class leaves open what a layer
// is, it says what holds in each case.
func (t Table) Check(m Meeting) []Advice {
	cases := t.cases(m)
	all := window(m)
	for _, c := range cases {
		proviso := ""
		if len(cases) > 1 {
			proviso = m.proviso(c)
		}
		all = append(all, m.advise(c.rule, proviso))
	}
	return all
}

// outcome is what one rule says, nil for none, of what the layers may be.
type outcome struct {
	rule         *Rule
	below, above []Class
}

// cases returns every outcome there may be.
func (t Table) cases(m Meeting) []outcome {
	var all []outcome
	for _, below := range m.Below.Class.may() {
		for _, above := range m.Above.Class.may() {
			r := t.find(m, below, above)
			i := slices.IndexFunc(all, func(o outcome) bool { return o.rule == r })
			if i < 0 {
				i = len(all)
				all = append(all, outcome{rule: r})
			}
			all[i].below, all[i].above = append(all[i].below, below), append(all[i].above, above)
		}
	}
	return all
}

// find returns the first rule that fits, or nil.
func (t Table) find(m Meeting, below, above Class) *Rule {
	for i := range t.rules {
		r := &t.rules[i]
		if slices.Contains(r.Below, below) && slices.Contains(r.Above, above) && (!r.Same || m.same()) {
			return r
		}
	}
	return nil
}

// same reports whether a product goes over itself, as far as is known.
func (m Meeting) same() bool {
	a, b := m.Below, m.Above
	return a.Class == b.Class && (a.Product == b.Product || a.Product == "" || b.Product == "")
}

// proviso says of which of the things that the layers may be an outcome holds.
func (m Meeting) proviso(o outcome) string {
	var parts []string
	if len(m.Below.Class.may()) > 1 {
		parts = append(parts, "if "+m.Below.name()+" is "+eachWords(o.below))
	}
	if len(m.Above.Class.may()) > 1 {
		parts = append(parts, "if "+m.Above.name()+" is "+eachWords(o.above))
	}
	return ", " + strings.Join(parts, " and ")
}

// window returns what the lower one's label says of the time that has passed.
func window(m Meeting) []Advice {
	recoat, by := m.Below.Recoat, m.Below.RecoatBy
	passed := passedWords(m.Since)
	switch {
	case m.Since <= 0:
		return nil
	case m.Since < recoat:
		return []Advice{{Do: Wait, Reason: TooSoon, Source: labelSays, WaitMinutes: recoat.Minutes(),
			Text: fmt.Sprintf("The label of %s asks for %s before the next coat, and %s. %s", m.Below.name(), quantity.FormatDuration(recoat), passed, TooSoon.Text())}}
	case by > 0 && m.Since > by && !m.Abraded:
		return []Advice{{Do: Abrade, Reason: PastWindow, Source: labelSays,
			Text: fmt.Sprintf("The label of %s wants the next coat within %s, and %s: abrade first. %s", m.Below.name(), quantity.FormatDuration(by), passed, PastWindow.Text())}}
	}
	return nil
}

const labelSays = "the label"

func (m Meeting) advise(r *Rule, proviso string) Advice {
	heading := m.Above.name() + " over " + m.Below.name() + proviso + ": "
	if r == nil {
		return Advice{Reason: NoRule, Text: heading + "there is no rule. " + NoRule.Text()}
	}
	a := Advice{Do: r.Do, Reason: r.Reason, Confidence: r.Confidence, Source: r.Source}
	least := r.Wait.least(m.Below.Recoat)
	if m.Abraded {
		a.Do &^= Abrade
	}
	if r.Wait.met(m.Below.Recoat, m.Since) {
		a.Do &^= Wait
	}
	if a.Do&^(OK|Thin) == 0 {
		a.Do |= OK
	}
	if a.Do.Has(Wait) {
		a.WaitMinutes = least.Minutes()
	}
	a.Text = heading + a.Do.sentence(r.Wait.text(m.Below, m.Since)) + " " + r.Reason.Text()
	if r.Note != "" {
		a.Text += " " + r.Note
	}
	return a
}

// least is the wait that a clock can tell.
func (s Span) least(recoat time.Duration) time.Duration {
	return max(s.For, time.Duration(s.Times*float64(recoat)))
}

// met reports whether the wait is known to be over.
func (s Span) met(recoat, since time.Duration) bool {
	known := s.Times == 0 || recoat > 0
	return s.Until == "" && known && since > 0 && since >= s.least(recoat)
}
