package plan

import "time"

// Delivery is how late a chain may begin and still be done in time.
type Delivery struct {
	By time.Time
	// Start is the latest working instant at which the chain may begin with a
	// good chance; zero where there is none.
	Start time.Time
	// Chance is that the chain begun at Start, or where there is none at Best,
	// goes on in a room where no limit is broken and is done in time.
	Chance float64
	Best   time.Time // the latest working instant with the best chance; zero: none has any
}

// Feasible reports whether there is a start with a good chance.
func (d Delivery) Feasible() bool { return !d.Start.IsZero() }

// furthest is how far ahead of a delivery starts are looked for.
const furthest = 30 * 24 * time.Hour

// LatestStart looks for the latest start, from an instant on, with which the
// chain is done by another. Starts are tried at from and at every step of the
// clock, in working hours.
func (p *Planner) LatestStart(from, by time.Time) Delivery {
	d := Delivery{By: by}
	if earliest := by.Add(-furthest); from.Before(earliest) {
		from = earliest
	}
	for t := by.Add(-1).Truncate(p.step); ; t = t.Add(-p.step) {
		if t.Before(from) {
			t = from
		}
		if t.Before(by) && p.setup.Hours.Has(t) {
			chance := p.inTime(p.since(t), p.since(by))
			if chance > d.Chance {
				d.Best, d.Chance = t, chance
			}
			if chance >= GoodChance {
				d.Start, d.Best = t, t
				return d
			}
		}
		if !t.After(from) {
			return d
		}
	}
}

// inTime returns the chance that a chain begun at an instant is done by
// another.
func (p *Planner) inTime(start, by time.Duration) float64 {
	good := 0
	for member := range p.members() {
		if !p.at(p.coats[0].kind, member, p.stepOf(start)).shut() && p.run(member, start, by).done <= by {
			good++
		}
	}
	return share(good, p.members())
}
