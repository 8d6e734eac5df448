package schedule

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// Part is one part of a piece with its schedule and how far it has come.
type Part struct {
	Number   int          `json:"number"` // in the piece, 1 or more
	ID       string       `json:"id"`
	Name     string       `json:"name"`
	Template string       `json:"template"` // the id of the one that it began as; empty: none
	Steps    []Step       `json:"steps"`    // in order; none: no schedule
	Marks    map[int]Mark `json:"-"`        // by the step's id
}

// Mark is how a step was left behind.
type Mark struct {
	Done    time.Time // zero: it was skipped
	Skipped time.Time // zero: it was done
	Coat    string    // the id of the coat that it put on; empty: none
}

// ErrCircle says that steps wait for each other.
var ErrCircle = errors.New("the steps wait for each other in a circle")

// Check says what is wrong with the schedules of a piece.
func Check(parts []Part) error {
	for _, p := range parts {
		if err := p.check(parts); err != nil {
			return fmt.Errorf("the schedule of %s: %w", p.Name, err)
		}
	}
	return circle(parts)
}

func (p *Part) check(parts []Part) error {
	if len(p.Steps) > MostSteps {
		return fmt.Errorf("%d steps: at most %d fit", len(p.Steps), MostSteps)
	}
	seen := map[int]bool{}
	for _, s := range p.Steps {
		if err := s.check(); err != nil {
			return err
		}
		if seen[s.ID] {
			return fmt.Errorf("two steps have the id %d: give each its own", s.ID)
		}
		seen[s.ID] = true
		for _, w := range s.Waits {
			if _, _, err := p.target(parts, w); err != nil {
				return fmt.Errorf("step %d (%s): %w", s.ID, s.Title(), err)
			}
		}
	}
	return nil
}

// target finds the part and the place of the step that a wait is for; place is
// -1 where it is for the last coat of a part whose schedule has none.
func (p *Part) target(parts []Part, w Wait) (of *Part, place int, err error) {
	of = p
	if w.Part != 0 && w.Part != p.Number {
		i := slices.IndexFunc(parts, func(o Part) bool { return o.Number == w.Part })
		if i < 0 {
			return nil, 0, fmt.Errorf("it waits for part %d: the piece has no such part", w.Part)
		}
		of = &parts[i]
	}
	if w.Step == 0 && of == p {
		return nil, 0, errors.New("it waits for the last coat of its own part: name the step")
	}
	if w.Step == 0 {
		return of, of.lastCoat(), nil
	}
	place = of.place(w.Step)
	switch {
	case place < 0:
		return nil, 0, fmt.Errorf("it waits for step %d of %s: there is no such step", w.Step, of.Name)
	case w.Stage != nil && !of.Steps[place].Kind.Coats():
		return nil, 0, fmt.Errorf("it waits until step %d of %s (%s) is at %v: that step puts no coat on", w.Step, of.Name, of.Steps[place].Title(), *w.Stage)
	}
	return of, place, nil
}

// place is where the step with an id stands; -1: nowhere.
func (p *Part) place(id int) int {
	return slices.IndexFunc(p.Steps, func(s Step) bool { return s.ID == id })
}

func (p *Part) lastCoat() int {
	for i, s := range slices.Backward(p.Steps) {
		if s.Kind.Coats() {
			return i
		}
	}
	return -1
}

// Count is a step among those of its kind, such as "colour 1 of 2"; the kind
// alone where it is the only one, and empty where there is no such step.
func (p *Part) Count(id int) string {
	at := p.place(id)
	if at < 0 {
		return ""
	}
	kind, n, of := p.Steps[at].Kind, 0, 0
	for i, s := range p.Steps {
		if s.Kind != kind {
			continue
		}
		of++
		if i <= at {
			n++
		}
	}
	if of == 1 {
		return string(kind)
	}
	return fmt.Sprintf("%s %d of %d", kind, n, of)
}

// node is one step of one part.
type node struct {
	part *Part
	step int // its place
}

func (n node) name() string {
	return fmt.Sprintf("%s, step %d (%s)", n.part.Name, n.step+1, n.part.Steps[n.step].Title())
}

// circle returns an error that names the steps that wait for each other.
func circle(parts []Part) error {
	done := map[node]bool{}
	var path []node
	var visit func(n node) error
	visit = func(n node) error {
		if i := slices.Index(path, n); i >= 0 {
			return named(append(slices.Clone(path[i:]), n))
		}
		if done[n] {
			return nil
		}
		path = append(path, n)
		for _, before := range n.before(parts) {
			if err := visit(before); err != nil {
				return err
			}
		}
		path = path[:len(path)-1]
		done[n] = true
		return nil
	}
	for i := range parts {
		for k := range parts[i].Steps {
			if err := visit(node{&parts[i], k}); err != nil {
				return err
			}
		}
	}
	return nil
}

// before are the steps that must come before one.
func (n node) before(parts []Part) []node {
	var all []node
	if n.step > 0 {
		all = append(all, node{n.part, n.step - 1})
	}
	for _, w := range n.part.Steps[n.step].Waits {
		if of, place, err := n.part.target(parts, w); err == nil && place >= 0 {
			all = append(all, node{of, place})
		}
	}
	return all
}

func named(path []node) error {
	names := make([]string, len(path))
	for i, n := range path {
		names[i] = n.name()
	}
	return fmt.Errorf("%w: %s", ErrCircle, strings.Join(names, " waits for "))
}
