package drying

import (
	"errors"
	"fmt"
	"math"
	"time"

	"recoat/sensors"
)

// Ensemble is a set of courses that the conditions of a room may take, each as
// likely as the other. It keeps what the families make of them, so that many
// coats can share it, and is not for use by two goroutines at once.
type Ensemble struct {
	start   time.Time
	step    time.Duration
	courses [][]state          // member by member
	drives  map[kindID][]drive // member by member
}

type kindID struct {
	family Family
	kind   string
	bend   bend // to one label
}

// drive is what makes a kind of finish dry in a step of a course.
type drive struct {
	rates  rates
	film   float64
	spread float64
}

const (
	maxMembers = 10000
	maxCells   = 2_000_000 // members by steps
)

// NewEnsemble takes courses that all begin at start and give the conditions of
// one step after the other, from a minute to six hours each. They have to be of
// one length. The ensemble keeps seven digits of them. Conditions that Check refuses
// are unknown: nothing dries in them.
func NewEnsemble(start time.Time, step time.Duration, members [][]Conditions) (*Ensemble, error) {
	if len(members) == 0 || len(members[0]) == 0 {
		return nil, errors.New("the ensemble holds no course: at least one with one step is needed")
	}
	steps := len(members[0])
	if len(members) > maxMembers || steps > maxCells/len(members) {
		return nil, fmt.Errorf("the ensemble has %d courses of %d steps: %d courses and %d steps altogether would do", len(members), steps, maxMembers, maxCells)
	}
	if step < time.Minute || step > 6*time.Hour {
		return nil, fmt.Errorf("the ensemble's step is %v: a minute to six hours would do", step)
	}
	e := &Ensemble{start: start, step: step, courses: make([][]state, len(members)), drives: map[kindID][]drive{}}
	for i, course := range members {
		if len(course) != steps {
			return nil, fmt.Errorf("course %d of the ensemble has %d steps: as many as the first, %d, would do", i, len(course), steps)
		}
		e.courses[i] = statesOf(course)
	}
	return e, nil
}

// state is one step: its conditions, and what of its moist is dear to compute. An
// ensemble has tens of thousands of these, and a room several ensembles, so that
// conditions are kept to seven digits: finer than any sensor.
type state struct {
	vapour                 float64 // NaN where nothing can be computed
	depression             float64
	air, humidity, surface float32
	speed, pressure        float32
	measured               bool // the surface
}

func statesOf(course []Conditions) []state {
	all := make([]state, len(course))
	for i, c := range course {
		s := &all[i]
		*s = state{
			air: float32(c.Air), humidity: float32(c.Humidity), surface: float32(c.Surface),
			speed: float32(c.AirSpeed), pressure: float32(c.Pressure), measured: c.SurfaceMeasured,
		}
		if c.Check() != nil {
			s.vapour = math.NaN()
			continue
		}
		m := newMoist(s.conditions(), 1)
		s.vapour, s.depression = m.vapour, m.depression
	}
	return all
}

func (s *state) conditions() Conditions {
	return Conditions{
		Air: sensors.Celsius(s.air), Humidity: sensors.RelativeHumidity(s.humidity), Surface: sensors.Celsius(s.surface),
		AirSpeed: sensors.MetresPerSecond(s.speed), Pressure: sensors.Pascals(s.pressure), SurfaceMeasured: s.measured,
	}
}

// moist is that of one step of one course over a film that shows the share wet
// of the air's wet-bulb depression; without anything where nothing can be
// computed.
func (e *Ensemble) moist(member, step int, wet float64) moist {
	s := &e.courses[member][step]
	if math.IsNaN(s.vapour) {
		return moist{}
	}
	m := moist{air: float64(s.air), surface: float64(s.surface), humidity: float64(s.humidity), vapour: s.vapour, depression: s.depression}
	m.film, m.speed = m.surface-wet*m.depression, max(float64(s.speed), stillAir)
	return m
}

// Start returns when the courses begin.
func (e *Ensemble) Start() time.Time { return e.start }

// Step returns how long each step lasts.
func (e *Ensemble) Step() time.Duration { return e.step }

// Members returns how many courses there are.
func (e *Ensemble) Members() int { return len(e.courses) }

// Steps returns how many steps each course has.
func (e *Ensemble) Steps() int { return len(e.courses[0]) }

// Conditions returns those of one step, from 0, of one course, from 0.
func (e *Ensemble) Conditions(member, step int) Conditions {
	return e.courses[member][step].conditions()
}

// place returns the step in which an instant lies; below 0 before the start,
// and Steps or more after the end.
func (e *Ensemble) place(t time.Time) int {
	d := t.Sub(e.start)
	if d < 0 {
		return -1
	}
	return int(min(d/e.step, time.Duration(e.Steps())))
}

// day returns how many of the last steps make a day, as far as there are.
func (e *Ensemble) day() int { return min(max(int(day/e.step), 1), e.Steps()) }

// Outlook returns one course as what is expected: before it its first step,
// after it its last day over and over.
func (e *Ensemble) Outlook(member int) Outlook {
	course, last := e.courses[member], e.day()
	return func(t time.Time) (Conditions, bool) {
		i := max(e.place(t), 0)
		if i >= len(course) {
			beyond := t.Sub(e.start)/e.step - time.Duration(len(course))
			i = len(course) - last + int(beyond%time.Duration(last))
		}
		return course[i].conditions(), true
	}
}

// drivesOf returns what drives a kind of finish, worked out once for all labels
// that state one condition.
func (e *Ensemble) drivesOf(m *model) []drive {
	id := kindID{m.product.Family, m.product.Kind, m.bend}
	if all, ok := e.drives[id]; ok {
		return all
	}
	all := make([]drive, 0, e.Members()*e.Steps())
	for member := range e.courses {
		for step := range e.Steps() {
			here := e.moist(member, step, m.law.wet)
			all = append(all, drive{m.rates(&here), here.film, m.law.spread(&here)})
		}
	}
	e.drives[id] = all
	return all
}
