package dashboards

import (
	"errors"
	"slices"
	"time"

	"recoat/drying"
	"recoat/drying/plan"
	"recoat/internal/room"
	"recoat/sensors"
)

// planSeed is fixed: the same forecast gives the same plan.
const planSeed = 1

// What the toggles of the plan page change, one value each: enough to see what
// it is worth.
const (
	planWarmer = sensors.Kelvins(4)
	planHeld   = sensors.RelativeHumidity(45)
	planMoved  = sensors.MetresPerSecond(0.5)
	planThin   = 0.8 // of the label's film
)

// planMembers is how many of the forecast's courses are counted: the chance of a
// half is then known to within 5 in 100, and a dragged coat answers at once.
const planMembers = 100

// someOf is every nth course of a forecast.
type someOf struct {
	room.Courses
	every int
}

func (s someOf) Members() int { return s.Courses.Members() / s.every }

func (s someOf) Conditions(member, step int) drying.Conditions {
	return s.Courses.Conditions(member*s.every, step)
}

func fewer(c room.Courses) room.Courses {
	if every := c.Members() / planMembers; every > 1 {
		return someOf{c, every}
	}
	return c
}

// planAsk is what is planned.
type planAsk struct {
	coats   []plan.Coat
	start   time.Time
	changes map[string]bool // by the toggle's key
	by      time.Time       // it is wanted then; zero: no matter when
	// Of a part's schedule: what each coat is called, the work before each and
	// after the last, and what no plan counts.
	names, before []string
	after         string
	untold        []string
	work          time.Duration // that sanding takes
	opens         time.Time     // the part is likely not ready for its first coat before; zero: it is
}

// times is a product so many times over.
func times(p drying.Product, n int) []plan.Coat {
	return slices.Repeat([]plan.Coat{{Product: p, Waits: []drying.Stage{drying.DryToRecoat}}}, n)
}

// from is an instant, or when the part is ready for its first coat, if that is
// later.
func (a planAsk) from(t time.Time) time.Time {
	if a.opens.After(t) {
		return a.opens
	}
	return t
}

// film is the label's wet film where all coats have the same; 0: they differ.
func (a planAsk) film() drying.Microns {
	film := a.coats[0].Product.Stated.Film
	for _, c := range a.coats {
		if c.Product.Stated.Film != film {
			return 0
		}
	}
	return film
}

// planned is what came of it.
type planned struct {
	verdict  plan.Verdict
	nextGood time.Time // zero: none
	chain    plan.Chain
	until    time.Time // the forecast ends; later is a guess
	delivery *plan.Delivery
	ways     int // the room may go, that are counted
	whatIfs  []whatIf
	change   plan.Change // the toggles that are on
}

// whatIf is one toggle: what it would change by itself, or, where it is on, what
// leaving it would.
type whatIf struct {
	toggle
	change plan.Change
	saved  time.Duration
	known  bool
	energy plan.Energy
}

type toggle struct {
	key, title string
	set        func(*plan.Change)
}

// toggles are what can be changed. Thinner coats are offered where all have the
// same film.
func toggles(w words, film drying.Microns) []toggle {
	all := []toggle{
		{"warm", "Warm the air by " + w.limit(planWarmer), func(c *plan.Change) { c.RaiseAir = planWarmer }},
		{"dry", "Hold the humidity at " + percent(planHeld), func(c *plan.Change) { c.HoldHumidity = planHeld }},
		{"move", "Move the air gently", func(c *plan.Change) { c.MoveAir = planMoved }},
	}
	if film > 0 {
		all = append(all, toggle{"thin", "Put it on a fifth thinner", func(c *plan.Change) { c.Film = film * planThin }})
	}
	return all
}

var errNoForecast = errors.New("the room has not been measured for long enough to forecast it: about a day of readings is needed")

// plan works out a chain, and what each toggle is worth to it.
func (w words) plan(s room.Snapshot, ask planAsk, hours plan.Hours) (planned, error) {
	if s.Ahead == nil {
		return planned{}, errNoForecast
	}
	setup := plan.Setup{Ensemble: fewer(s.Ahead), Coats: ask.coats, Finish: drying.Handle, Hours: hours, Seed: planSeed}
	var on plan.Change
	offered := toggles(w, ask.film())
	for _, t := range offered {
		if ask.changes[t.key] {
			t.set(&on)
		}
	}
	setup.Change = on
	planner, err := plan.New(setup)
	if err != nil {
		return planned{}, err
	}
	p := planned{verdict: planner.Verdict(ask.start), chain: planner.Chain(ask.start), until: planner.Until(), ways: setup.Ensemble.Members(), change: on}
	if from := ask.from(ask.start); !p.verdict.Go() || from.After(ask.start) {
		p.nextGood, _ = planner.NextGood(from)
	}
	if !ask.by.IsZero() {
		d := planner.LatestStart(ask.from(s.At), ask.by)
		p.delivery = &d
	}
	for _, t := range offered {
		other := on
		if ask.changes[t.key] {
			other = without(on, t.key)
		} else {
			t.set(&other)
		}
		x, err := planner.WhatIf(other, p.chain)
		if err != nil {
			return p, err
		}
		p.whatIfs = append(p.whatIfs, w.whatIf(t, x, ask, p))
	}
	return p, nil
}

func without(c plan.Change, key string) plan.Change {
	switch key {
	case "warm":
		c.RaiseAir = 0
	case "dry":
		c.HoldHumidity = 0
	case "move":
		c.MoveAir = 0
	default:
		c.Film = 0
	}
	return c
}

// whatIf gives what a toggle saves while it is on, whichever of the two plans
// has it on.
func (w words) whatIf(t toggle, x plan.WhatIf, ask planAsk, p planned) whatIf {
	out := whatIf{toggle: t, saved: x.Saved, known: x.Comparable()}
	t.set(&out.change)
	done := x.Chain.Done.Likely
	if ask.changes[t.key] {
		out.saved, done = -x.Saved, p.chain.Done.Likely
	}
	if !done.IsZero() {
		out.energy = out.change.Energy(done.Sub(ask.start))
	}
	return out
}
