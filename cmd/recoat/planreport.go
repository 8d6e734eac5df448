package main

import (
	"fmt"
	"strings"
	"text/tabwriter"
	"time"

	"recoat/drying"
	"recoat/drying/plan"
	"recoat/internal/recording"
	"recoat/internal/shop"
)

type planReport struct {
	Start    time.Time        `json:"start_at"`
	From     time.Time        `json:"forecast_from_at"`
	Until    time.Time        `json:"forecast_until_at"` // later, the last day is taken to repeat itself
	Verdict  goReport         `json:"verdict"`
	NextGood *time.Time       `json:"next_good_at"`
	Coats    []coatPlan       `json:"coats"`
	Finish   drying.Stage     `json:"finish_stage"` // of the last coat
	Ready    *time.Time       `json:"ready_at"`
	Low      *time.Time       `json:"low_at"`
	High     *time.Time       `json:"high_at"`
	Delivery *deliveryReport  `json:"delivery,omitempty"`
	WhatIfs  []whatIfReport   `json:"what_ifs"`
	Cautions []string         `json:"cautions"`
	Record   recording.Report `json:"record"`
}

type goReport struct {
	Go      string       `json:"state"` // go or wait
	Chance  *float64     `json:"chance"`
	Free    *time.Time   `json:"tack_free_at"`
	Reasons []failReport `json:"reasons"`
}

type failReport struct {
	drying.Reason
	Chance *float64   `json:"chance"`
	At     *time.Time `json:"likely_at"`
	Low    *time.Time `json:"low_at"`
	High   *time.Time `json:"high_at"`
}

type coatPlan struct {
	Product string         `json:"product"`
	Stages  []drying.Stage `json:"stages"` // that it is ready at
	Start   *time.Time     `json:"start_at"`
	Chance  *float64       `json:"chance"`
	Ready   *time.Time     `json:"ready_at"`
	Low     *time.Time     `json:"low_at"`
	High    *time.Time     `json:"high_at"`
	Abrade  *float64       `json:"abrade_chance"`
	Assumed []string       `json:"assumed"`
}

type deliveryReport struct {
	By       time.Time  `json:"deliver_at"`
	Feasible bool       `json:"feasible"`
	Start    *time.Time `json:"latest_start_at"`
	Best     *time.Time `json:"best_start_at"`
	Chance   *float64   `json:"chance"`
}

type whatIfReport struct {
	RaiseAir *float64   `json:"raise_air_k,omitempty"`
	HoldRH   *float64   `json:"hold_rh_pct,omitempty"`
	MoveAir  *float64   `json:"move_air_m_s,omitempty"`
	Film     *float64   `json:"film_um,omitempty"`
	Verdict  goReport   `json:"verdict"`
	Coats    []coatPlan `json:"coats"`
	Ready    *time.Time `json:"ready_at"`
	Low      *time.Time `json:"low_at"`
	High     *time.Time `json:"high_at"`
	Saved    *float64   `json:"saved_min"` // null where nothing can be compared
}

func (c *planCommand) report(p *planned) planReport {
	r := planReport{
		Start: time.Time(c.Start), From: p.from.In(c.zone()), Until: p.planner.Until().In(c.zone()), Verdict: c.verdict(p.verdict),
		NextGood: c.local(p.nextGood), Coats: c.coats(p, p.chain), Finish: drying.Handle,
		Ready: c.local(p.chain.Done.Likely), Low: c.local(p.chain.Done.Low), High: c.local(p.chain.Done.High),
		WhatIfs: []whatIfReport{}, Cautions: p.cautions(), Record: p.record,
	}
	if d := p.delivery; d != nil {
		r.Delivery = &deliveryReport{d.By, d.Feasible(), c.local(d.Start), c.local(d.Best), places(d.Chance, 3)}
	}
	for _, w := range p.whatIfs {
		r.WhatIfs = append(r.WhatIfs, c.whatIf(p, w))
	}
	return r
}

func (c *planCommand) zone() *time.Location { return time.Time(c.Start).Location() }

func (c *planCommand) local(t time.Time) *time.Time { return instant(inZone(t, c.zone())) }

// inZone leaves no time as it is.
func inZone(t time.Time, l *time.Location) time.Time {
	if t.IsZero() {
		return t
	}
	return t.In(l)
}

func (c *planCommand) verdict(v plan.Verdict) goReport {
	r := goReport{Go: goWords[v.Go()], Chance: places(v.Chance, 3), Free: c.local(v.Free.Likely), Reasons: []failReport{}}
	for _, f := range v.Fails {
		r.Reasons = append(r.Reasons, failReport{f.Reason, places(f.Chance, 3), c.local(f.At.Likely), c.local(f.At.Low), c.local(f.At.High)})
	}
	return r
}

var goWords = map[bool]string{true: "go", false: "wait"}

func (c *planCommand) coats(p *planned, chain plan.Chain) []coatPlan {
	all := make([]coatPlan, len(chain.Coats))
	stages := c.setup(nil, p.products).Coats
	for i, t := range chain.Coats {
		all[i] = coatPlan{
			Product: p.products[i].Name, Stages: stages[i].Waits, Start: c.local(t.Start.Likely), Chance: places(t.Chance, 3),
			Ready: c.local(t.Ready.Likely), Low: c.local(t.Ready.Low), High: c.local(t.Ready.High),
			Abrade: places(t.Abrade, 3), Assumed: append([]string{}, p.products[i].Assumed...),
		}
	}
	return all
}

func (c *planCommand) whatIf(p *planned, w plan.WhatIf) whatIfReport {
	r := whatIfReport{
		RaiseAir: known(float64(w.Change.RaiseAir)), HoldRH: known(float64(w.Change.HoldHumidity)),
		MoveAir: known(float64(w.Change.MoveAir)), Film: known(float64(w.Change.Film)),
		Verdict: c.verdict(w.Verdict), Coats: c.coats(p, w.Chain),
		Ready: c.local(w.Chain.Done.Likely), Low: c.local(w.Chain.Done.Low), High: c.local(w.Chain.Done.High),
	}
	if w.Comparable() {
		r.Saved = places(w.Saved.Minutes(), 1)
	}
	return r
}

// known is null for a change that is not made.
func known(v float64) *float64 {
	if v == 0 {
		return nil
	}
	return places(v, 3)
}

// cautions are those of the products and of the changes, each once.
func (p *planned) cautions() []string {
	all := []string{}
	seen := map[string]bool{}
	add := func(cautions []string) {
		for _, c := range cautions {
			if !seen[c] {
				seen[c] = true
				all = append(all, c)
			}
		}
	}
	for _, w := range p.whatIfs {
		add(w.Change.Cautions())
	}
	for _, product := range p.products {
		add(shop.Cautions(product))
	}
	return all
}

func (c *planCommand) print(s *session, p *planned) error {
	show := func(t time.Time) string {
		if t.IsZero() {
			return "no time"
		}
		return clock(t.In(c.zone()))
	}
	c.printVerdict(s, p, show)
	w := tabwriter.NewWriter(s.stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "coat\tgoes on\tlimits hold\tready\teight times in ten")
	for i, t := range p.chain.Coats {
		fmt.Fprintf(w, "%d %s\t%s\t%s\t%s\t%s to %s\n", i+1, p.products[i].Name, show(t.Start.Likely), percent(t.Chance),
			show(t.Ready.Likely), show(t.Ready.Low), show(t.Ready.High))
	}
	done := p.chain.Done
	fmt.Fprintf(w, "fit to handle\t\t\t%s\t%s to %s\n", show(done.Likely), show(done.Low), show(done.High))
	if err := w.Flush(); err != nil {
		return err
	}
	for i, t := range p.chain.Coats {
		if t.Abrade >= 1-plan.GoodChance {
			fmt.Fprintf(s.stdout, "Coat %d waits longer than its recoat window, with a chance of %s: abrade it before the next.\n", i+1, percent(t.Abrade))
		}
	}
	c.printDelivery(s, p, show)
	for _, w := range p.whatIfs {
		printWhatIf(s, w, show)
	}
	fmt.Fprintf(s.stdout, "The forecast reaches to %s; later, its last day is taken to repeat itself.\n", show(p.planner.Until()))
	fmt.Fprintln(s.stdout, safety)
	for _, caution := range p.cautions() {
		fmt.Fprintln(s.stdout, caution)
	}
	return nil
}

func (c *planCommand) printVerdict(s *session, p *planned, show func(time.Time) string) {
	v := p.verdict
	word := "Wait"
	if v.Go() {
		word = "Go"
	}
	fmt.Fprintf(s.stdout, "%s. Begun %s, the chance is %s that every limit holds until the film is tack-free.\n", word, show(v.Start), percent(v.Chance))
	for _, f := range v.Fails {
		when := show(f.At.Likely)
		if !f.At.Low.Equal(f.At.High) {
			when = fmt.Sprintf("most likely %s (%s to %s)", when, show(f.At.Low), show(f.At.High))
		}
		fmt.Fprintf(s.stdout, "  %s: first to fail, with a chance of %s, %s.\n", f.Text, percent(f.Chance), when)
	}
	switch {
	case p.nextGood.IsZero():
		fmt.Fprintln(s.stdout, "There is no good hour to begin within 48 hours.")
	case !p.nextGood.Equal(v.Start):
		fmt.Fprintf(s.stdout, "The next good hour to begin is %s.\n", show(p.nextGood))
	}
}

func (c *planCommand) printDelivery(s *session, p *planned, show func(time.Time) string) {
	switch d := p.delivery; {
	case d == nil:
	case d.Feasible():
		fmt.Fprintf(s.stdout, "To deliver %s, begin no later than %s (chance %s).\n", show(d.By), show(d.Start), percent(d.Chance))
	case d.Best.IsZero():
		fmt.Fprintf(s.stdout, "To deliver %s is not feasible: no working hour before it gives it a chance.\n", show(d.By))
	default:
		fmt.Fprintf(s.stdout, "To deliver %s is not feasible: the best chance is %s, begun %s.\n", show(d.By), percent(d.Chance), show(d.Best))
	}
}

func printWhatIf(s *session, w plan.WhatIf, show func(time.Time) string) {
	var what []string
	if w.Change.RaiseAir > 0 {
		what = append(what, fmt.Sprintf("the air %v K warmer", w.Change.RaiseAir))
	}
	if w.Change.HoldHumidity > 0 {
		what = append(what, fmt.Sprintf("humidity held at %v %%", w.Change.HoldHumidity))
	}
	if w.Change.MoveAir > 0 {
		what = append(what, fmt.Sprintf("air moving at %v m/s", w.Change.MoveAir))
	}
	if w.Change.Film > 0 {
		what = append(what, fmt.Sprintf("a wet film of %v µm", w.Change.Film))
	}
	saved := "no saving can be told"
	switch {
	case !w.Comparable():
	case w.Saved.Round(time.Minute) == 0:
		saved = "no sooner"
	case w.Saved < 0:
		saved = span(-w.Saved) + " later"
	default:
		saved = span(w.Saved) + " sooner"
	}
	fmt.Fprintf(s.stdout, "With %s: limits hold with a chance of %s; fit to handle %s, %s.\n", strings.Join(what, ", "), percent(w.Verdict.Chance), show(w.Chain.Done.Likely), saved)
}

// percent shows a chance.
func percent(chance float64) string {
	if chance > surest {
		return fmt.Sprintf("over %.0f %%", 100*surest)
	}
	return fmt.Sprintf("%.0f %%", 100*chance)
}

// surest is the chance beyond which no forecast of a room is told to a person.
const surest = 0.95
