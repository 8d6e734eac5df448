// Package partplan plans the coats that are still to come on a part, from its
// finishing schedule: each product, the work between coats, and gates of other
// parts. It is pure, and only advises: the label and local rules come first, and
// touch decides.
package partplan

import (
	"errors"
	"fmt"
	"time"

	"recoat/drying"
	"recoat/drying/plan"
	"recoat/internal/shop/schedule"
)

// Ask is what is planned.
type Ask struct {
	Parts []schedule.Part // of the piece
	Part  string          // id of the one that is planned
	// Product is what a step puts on; false: nobody has said.
	Product func(schedule.Step) (drying.Product, bool)
	Look    schedule.Look
	Start   time.Time // of the first coat; other parts that gate this one begin then too
	Work    time.Duration
	// Room is what is known of the room and the finisher; its coats are filled in.
	Room plan.Setup
}

// Plan is a part's schedule, ready to be planned.
type Plan struct {
	Setup  plan.Setup
	Coats  []schedule.Coming
	After  []schedule.Step // what follows the last coat
	Opens  time.Time       // before then the part is likely not ready for its first coat; zero: it is
	Untold []string        // waits that the plan does not count
}

// ErrDone says that a part's schedule has no coat left to put on.
var ErrDone = errors.New("its schedule has no coat left: all are on")

// NoProductError says that a step has no product.
type NoProductError struct{ Step schedule.Step }

func (e NoProductError) Error() string {
	return fmt.Sprintf("the step “%s” names no product: choose one", e.Step.Title())
}

// UsualWork is how long sanding between two coats of a part is taken to last,
// with wiping it down: judgement.
const UsualWork = 30 * time.Minute

// OtherWork is how long any other step that puts no coat on is taken to last:
// judgement.
const OtherWork = 15 * time.Minute

// deepest is how many parts may wait for each other, one after the other.
const deepest = 8

// New lays out what is left of a part's schedule.
func New(a Ask) (Plan, error) { return a.lay(a.Part, 0, 0) }

// lay lays out a part, up to a step; 0: to its end.
func (a *Ask) lay(id string, upTo, depth int) (Plan, error) {
	part, ok := find(a.Parts, id)
	if !ok {
		return Plan{}, fmt.Errorf("the piece has no part %s", id)
	}
	p := Plan{Setup: a.Room}
	p.Setup.Coats = nil
	p.Coats, p.After = part.Coming(a.Parts)
	for i, c := range p.Coats {
		if c.Step.ID == upTo {
			p.Coats = p.Coats[:i+1]
			break
		}
	}
	if len(p.Coats) == 0 {
		return p, fmt.Errorf("%s: %w", part.Name, ErrDone)
	}
	for i, c := range p.Coats {
		product, ok := a.Product(c.Step)
		if !ok {
			return p, NoProductError{c.Step}
		}
		p.Untold = append(p.Untold, c.Untold...)
		opens := p.gates(a, c.Gates, depth)
		if i == 0 {
			p.Opens = opens
		} else {
			p.follow(c, a.Work)
		}
		p.Setup.Coats = append(p.Setup.Coats, plan.Coat{Product: product, Waits: []drying.Stage{drying.DryToRecoat}, NotBefore: opens})
	}
	p.Setup.Coats[0].NotBefore = time.Time{} // the start is the finisher's own
	return p, nil
}

// follow says what the newest coat must have had before another.
func (p *Plan) follow(c schedule.Coming, sanding time.Duration) {
	before := &p.Setup.Coats[len(p.Setup.Coats)-1]
	if stages := schedule.Stages(c.Waits); len(stages) > 0 {
		before.Waits = stages
	}
	before.Times, before.Least = schedule.Times(c.Waits), schedule.Least(c.Waits)
	before.Work = Work(c.Before, sanding)
}

// Work is how long steps take that put no coat on.
func Work(steps []schedule.Step, sanding time.Duration) time.Duration {
	var sum time.Duration
	for _, s := range steps {
		if s.Kind == schedule.Sand {
			sum += sanding
		} else {
			sum += OtherWork
		}
	}
	return min(sum, 24*time.Hour)
}

// gates returns when all of some gates are likely open; zero: they are, or
// nothing can be told, which Untold then says.
func (p *Plan) gates(a *Ask, gates []schedule.Gate, depth int) time.Time {
	var last time.Time
	for _, g := range gates {
		at, known := a.opens(g, depth)
		if !known {
			p.Untold = append(p.Untold, fmt.Sprintf("it waits for %s, “%s”, of which no time can be told", g.Name, g.Step.Title()))
		}
		if at.After(last) {
			last = at
		}
	}
	return last
}

// opens is when a gate likely opens: by the room where its coat is on, else by a
// plan of the other part that begins at the same time.
func (a *Ask) opens(g schedule.Gate, depth int) (time.Time, bool) {
	if g.Coat != "" {
		c, ok := a.Look(g.Coat)
		if !ok {
			return time.Time{}, false
		}
		return c.Ready(g.Wait)
	}
	if depth == deepest || g.Wait.Stage == nil {
		return time.Time{}, false
	}
	other, err := a.lay(g.Part, g.Step.ID, depth+1)
	if err != nil {
		return time.Time{}, false
	}
	other.Setup.Finish = *g.Wait.Stage
	planner, err := plan.New(other.Setup)
	if err != nil {
		return time.Time{}, false
	}
	start := a.Start
	if other.Opens.After(start) {
		start = other.Opens
	}
	done := planner.Chain(start).Done.Likely
	return done, !done.IsZero()
}

func find(parts []schedule.Part, id string) (*schedule.Part, bool) {
	for i := range parts {
		if parts[i].ID == id {
			return &parts[i], true
		}
	}
	return nil, false
}
