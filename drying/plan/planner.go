package plan

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"time"

	"recoat/drying"
	"recoat/drying/surface"
	"recoat/drying/wood"
)

// Ensemble is a set of courses that the room's conditions may take, each as
// likely as the other: drying.Ensemble is one.
type Ensemble interface {
	Start() time.Time
	Step() time.Duration
	Steps() int
	Members() int
	Conditions(member, step int) drying.Conditions
}

// Coat is one coat of a chain.
type Coat struct {
	Product drying.Product
	Film    drying.Microns // 0: the label's
	Learnt  drying.Learnt
	// Waits are the stages that all have to be reached before what follows.
	Waits []drying.Stage
	// Times is how many times as long as to those stages it must have had, and
	// Least how long in any case; 0: once, and no time.
	Times float64
	Least time.Duration
	// Work is how long the sanding takes that follows, in working hours.
	Work time.Duration
	// NotBefore is when the coat goes on at the earliest, for what it waits for
	// besides the coat before; zero: nothing. The first of a chain goes on at its
	// start.
	NotBefore time.Time
}

// Setup is what a Planner plans for.
type Setup struct {
	Ensemble Ensemble
	Coats    []Coat       // in order
	Finish   drying.Stage // of the last coat, at which the chain is done
	Hours    Hours
	Change   Change
	Seed     uint64
}

// Planner plans one chain of coats in one room. It works out what it needs as
// it is asked, and is not for use by two goroutines at once.
type Planner struct {
	setup  Setup
	start  time.Time // of the ensemble
	step   time.Duration
	steps  int64
	coats  []coat
	warmed []float64 // by step: what a piece has taken on of a rise of the air
}

// coat is a coat of the chain made ready to count with.
type coat struct {
	Coat
	kind *kind
	off  []float64 // by member: standard deviations that its time is off by
}

// kind is what all coats have in common that dry alike.
type kind struct {
	of    drying.Coat
	meter *drying.Meter
	codes []string
	fixed [drying.StageCount]float64 // variance, by stage
	ways  [][]cell                   // by member
}

const (
	mostCoats   = 50
	mostMembers = 10000
	mostSteps   = 10000
	longestWork = 24 * time.Hour
	mostTimes   = 20
)

// New refuses a setup that nothing can be planned with; the error says what
// would be right.
func New(s Setup) (*Planner, error) {
	if err := errors.Join(s.checkEnsemble(), s.checkCoats(), s.Hours.Check(), s.Change.Check()); err != nil {
		return nil, err
	}
	p := &Planner{setup: s, start: s.Ensemble.Start(), step: s.Ensemble.Step(), steps: int64(s.Ensemble.Steps())}
	for i, c := range s.Coats {
		if s.Change.Film > 0 {
			c.Film = s.Change.Film
		}
		k, err := p.kindOf(c)
		if err != nil {
			return nil, fmt.Errorf("coat %d: %w", i+1, err)
		}
		p.coats = append(p.coats, coat{Coat: c, kind: k, off: p.draw(c.Product, i)})
	}
	if s.Change.RaiseAir > 0 {
		warmed, err := warming(p.step, s.Ensemble.Steps())
		if err != nil {
			return nil, err
		}
		p.warmed = warmed
	}
	return p, nil
}

func (s *Setup) checkEnsemble() error {
	e := s.Ensemble
	switch {
	case e == nil:
		return errors.New("there is no ensemble: nothing is known of the room to come")
	case e.Members() < 1 || e.Members() > mostMembers || e.Steps() < 1 || e.Steps() > mostSteps:
		return fmt.Errorf("the ensemble has %d members of %d steps: 1 to %d of 1 to %d would do", e.Members(), e.Steps(), mostMembers, mostSteps)
	case e.Step() < time.Minute || e.Step() > 6*time.Hour:
		return fmt.Errorf("the ensemble's step is %v: a minute to six hours would do", e.Step())
	}
	return nil
}

func (s *Setup) checkCoats() error {
	if len(s.Coats) == 0 || len(s.Coats) > mostCoats {
		return fmt.Errorf("the chain has %d coats: 1 to %d would do", len(s.Coats), mostCoats)
	}
	if int(s.Finish) >= drying.StageCount {
		return fmt.Errorf("the chain is done at %s, which is no stage", s.Finish)
	}
	for i, c := range s.Coats {
		if c.Work < 0 || c.Work > longestWork {
			return fmt.Errorf("coat %d: the work after it takes %v: at most %v would do", i+1, c.Work, longestWork)
		}
		if !(c.Times >= 0 && c.Times <= mostTimes) || c.Least < 0 || c.Least > patience {
			return fmt.Errorf("coat %d: it needs %v times as long, and %v in any case: at most %d times and %v would do", i+1, c.Times, c.Least, mostTimes, patience)
		}
		if len(c.Waits) == 0 {
			return fmt.Errorf("coat %d: no stage is named to wait for: dry-to-recoat would do", i+1)
		}
		for _, w := range c.Waits {
			if int(w) >= drying.StageCount {
				return fmt.Errorf("coat %d: it waits for %s, which is no stage", i+1, w)
			}
		}
	}
	return nil
}

// kindOf returns the kind of a coat, the same for coats that dry alike.
func (p *Planner) kindOf(c Coat) (*kind, error) {
	of := drying.Coat{Product: c.Product, Film: c.Film, Learnt: c.Learnt}
	for i := range p.coats {
		if reflect.DeepEqual(p.coats[i].kind.of, of) {
			return p.coats[i].kind, nil
		}
	}
	m, err := drying.NewMeter(of)
	if err != nil {
		return nil, err
	}
	k := &kind{of: of, meter: m, codes: m.Limits(), ways: make([][]cell, p.setup.Ensemble.Members())}
	for s := range k.fixed {
		k.fixed[s] = m.Fixed(drying.Stage(s))
	}
	return k, nil
}

// draw returns by how many standard deviations each member's coat i is off:
// the middles of equal shares of the normal distribution, in an order that the
// seed decides. What a label or a law is wrong by, it is wrong by for every
// coat of the product.
func (p *Planner) draw(product drying.Product, i int) []float64 {
	for j := range p.coats {
		if reflect.DeepEqual(p.coats[j].Product, product) {
			return p.coats[j].off
		}
	}
	n := p.setup.Ensemble.Members()
	all := make([]float64, n)
	for m, place := range rand.New(rand.NewPCG(p.setup.Seed, uint64(i))).Perm(n) {
		all[m] = math.Sqrt2 * math.Erfinv((2*float64(place)+1)/float64(n)-1)
	}
	return all
}

// usualBoard is the thickness of the piece that warms with the room, m.
const usualBoard = 0.018

// warming returns how much of a sudden rise of the air a piece has taken on in
// the middle of each step.
func warming(step time.Duration, steps int) ([]float64, error) {
	begin := time.Unix(0, 0)
	board, err := surface.New(wood.Typical(usualBoard), 0, begin)
	if err != nil {
		return nil, fmt.Errorf("warming a piece: %w", err)
	}
	board.Advance(begin, 1)
	all := make([]float64, steps)
	for i := range all {
		board.Advance(begin.Add(time.Duration(i)*step+step/2), 1)
		t, _ := board.Surface()
		all[i] = float64(t)
	}
	return all, nil
}

// Until returns the end of the ensemble. What is said of later rests on the
// last day of each member repeating itself.
func (p *Planner) Until() time.Time {
	return p.start.Add(time.Duration(p.steps) * p.step)
}

func (p *Planner) members() int { return p.setup.Ensemble.Members() }

// since places an instant on the planner's own clock, which begins with the
// ensemble.
func (p *Planner) since(t time.Time) time.Duration { return t.Sub(p.start) }

// next is Hours.Next on the planner's clock.
func (p *Planner) next(t time.Duration) time.Duration {
	return p.since(p.setup.Hours.Next(p.start.Add(t)))
}
