package plan

import (
	"cmp"
	"slices"
	"sort"
	"time"

	"recoat/drying"
)

// GoodChance is the chance from which on a start is called good: judgement.
const GoodChance = 0.8

// Verdict is go or wait for the first coat at one instant.
type Verdict struct {
	Start time.Time
	// Chance is that every limit holds from the start until the film is
	// tack-free by the model, 0 to 1.
	Chance float64
	// Free is when the film is tack-free, where every limit holds.
	Free  Times
	Fails []Failure // the most likely first
}

// Go reports whether the start is a good one.
func (v Verdict) Go() bool { return v.Chance >= GoodChance }

// Failure is one limit that fails first while the film is open.
type Failure struct {
	drying.Reason         // in a member in the middle of those it happens to
	Chance        float64 // of all members
	At            Times   // of those in which it is the first to fail
}

// Verdict says whether to put the first coat on at an instant.
func (p *Planner) Verdict(start time.Time) Verdict {
	return p.verdict(&p.coats[0], start)
}

func (p *Planner) verdict(c *coat, start time.Time) Verdict {
	v := Verdict{Start: start}
	var free []time.Duration
	fails := map[string][]spoiling{}
	for member := range p.members() {
		until, at, limit := p.spoilt(c, member, p.since(start))
		switch {
		case until != never:
			free = append(free, until)
		case at == never:
			fails["slow"] = append(fails["slow"], spoiling{member: member, at: p.since(start) + patience})
		case limit < 0:
			fails["unknown"] = append(fails["unknown"], spoiling{member: member, at: at})
		default:
			code := c.kind.codes[limit]
			fails[code] = append(fails[code], spoiling{member, limit, at})
		}
	}
	v.Chance = share(len(free), p.members())
	if len(free) > 0 {
		v.Free = timesOf(free, p.start)
	}
	for code, all := range fails {
		v.Fails = append(v.Fails, p.failure(c, code, all))
	}
	sort.Slice(v.Fails, func(i, j int) bool {
		a, b := &v.Fails[i], &v.Fails[j]
		return cmp.Or(cmp.Compare(b.Chance, a.Chance), cmp.Compare(a.Code, b.Code)) < 0
	})
	return v
}

// spoiling is one member's first broken limit.
type spoiling struct {
	member, limit int
	at            time.Duration
}

func (p *Planner) failure(c *coat, code string, all []spoiling) Failure {
	slices.SortFunc(all, func(a, b spoiling) int {
		return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.member, b.member))
	})
	at := make([]time.Duration, len(all))
	for i, s := range all {
		at[i] = s.at
	}
	f := Failure{Chance: share(len(all), p.members()), At: timesOf(at, p.start)}
	middle := all[len(all)/2]
	conditions := p.conditions(middle.member, p.inside(p.stepOf(middle.at)))
	switch code {
	case "slow":
		f.Reason = drying.Reason{Code: code, Value: patience.Hours() / 24, Limit: patience.Hours() / 24, Unit: "d",
			Text: "the film is not tack-free within 60 days"}
	case "unknown":
		f.Reason = drying.Reason{Code: code, Text: "nothing can be computed: " + conditions.Check().Error()}
	default:
		f.Reason = c.kind.meter.Against(conditions, middle.limit)
	}
	return f
}

// chance is Verdict's chance alone.
func (p *Planner) chance(c *coat, start time.Duration) float64 {
	good := 0
	for member := range p.members() {
		if free, _, _ := p.spoilt(c, member, start); free != never {
			good++
		}
	}
	return share(good, p.members())
}

const (
	ahead = 48 * time.Hour // how far a good start is looked for
	stays = time.Hour      // for how long starts have to be good after it
)

// NextGood returns the first working instant, from an instant on and within 48
// hours of it, from which on every start is good for an hour, and false where
// there is none. Instants are tried at from and at every step of the clock.
func (p *Planner) NextGood(from time.Time) (time.Time, bool) {
	last := from.Add(ahead)
	var began time.Time // of the good starts so far; zero while there are none
	for t := from; !t.After(last.Add(stays)); t = t.Truncate(p.step).Add(p.step) {
		if began.IsZero() && (t.After(last) || !p.setup.Hours.Has(t)) {
			continue
		}
		switch {
		case p.chance(&p.coats[0], p.since(t)) < GoodChance:
			began = time.Time{}
		case began.IsZero():
			began = t
		}
		if !began.IsZero() && t.Sub(began) >= stays {
			return began, true
		}
	}
	return time.Time{}, false
}
