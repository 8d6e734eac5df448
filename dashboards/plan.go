package dashboards

import (
	"errors"
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
	product drying.Product
	coats   int
	start   time.Time
	changes map[string]bool // by the toggle's key
}

// planned is what came of it.
type planned struct {
	verdict  plan.Verdict
	nextGood time.Time // zero: none
	chain    plan.Chain
	until    time.Time // the forecast ends; later is a guess
	ways     int       // the room may go, that are counted
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
	set        func(*plan.Change, drying.Product)
}

func toggles(w words) []toggle {
	return []toggle{
		{"warm", "Warm the air by " + w.limit(planWarmer), func(c *plan.Change, _ drying.Product) { c.RaiseAir = planWarmer }},
		{"dry", "Hold the humidity at " + percent(planHeld), func(c *plan.Change, _ drying.Product) { c.HoldHumidity = planHeld }},
		{"move", "Move the air gently", func(c *plan.Change, _ drying.Product) { c.MoveAir = planMoved }},
		{"thin", "Put it on a fifth thinner", func(c *plan.Change, p drying.Product) { c.Film = p.Stated.Film * planThin }},
	}
}

var errNoForecast = errors.New("the room has not been measured for long enough to forecast it: about a day of readings is needed")

// plan works out a chain, and what each toggle is worth to it.
func (w words) plan(s room.Snapshot, ask planAsk, hours plan.Hours) (planned, error) {
	if s.Ahead == nil {
		return planned{}, errNoForecast
	}
	setup := plan.Setup{Ensemble: fewer(s.Ahead), Finish: drying.Handle, Hours: hours, Seed: planSeed}
	for range ask.coats {
		setup.Coats = append(setup.Coats, plan.Coat{Product: ask.product, Waits: []drying.Stage{drying.DryToRecoat}})
	}
	var on plan.Change
	for _, t := range toggles(w) {
		if ask.changes[t.key] {
			t.set(&on, ask.product)
		}
	}
	setup.Change = on
	planner, err := plan.New(setup)
	if err != nil {
		return planned{}, err
	}
	p := planned{verdict: planner.Verdict(ask.start), chain: planner.Chain(ask.start), until: planner.Until(), ways: setup.Ensemble.Members(), change: on}
	if !p.verdict.Go() {
		p.nextGood, _ = planner.NextGood(ask.start)
	}
	for _, t := range toggles(w) {
		other := on
		if ask.changes[t.key] {
			other = without(on, t.key)
		} else {
			t.set(&other, ask.product)
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
	t.set(&out.change, ask.product)
	done := x.Chain.Done.Likely
	if ask.changes[t.key] {
		out.saved, done = -x.Saved, p.chain.Done.Likely
	}
	if !done.IsZero() {
		out.energy = out.change.Energy(done.Sub(ask.start))
	}
	return out
}
