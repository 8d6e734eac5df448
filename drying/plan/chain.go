package plan

import (
	"time"

	"recoat/drying"
)

// Chain is a chain of coats from one start to its end.
type Chain struct {
	Start time.Time
	Coats []CoatTimes
	Done  Times   // when the last coat is at the stage that finishes the chain
	Ends  float64 // the chance that it ever is, within 60 days for each coat
	done  []time.Duration
}

// CoatTimes is when one coat goes on and is ready for what follows.
type CoatTimes struct {
	Start, Ready Times
	// Chance is that every limit holds while the film is open, of the members
	// in which the coat goes on at all.
	Chance float64
	// Abrade is the chance that the recoat window has closed when the next coat
	// goes on, so that this one has to be abraded first; 0 for the last coat.
	Abrade float64
}

// Chain plans all coats from one start. The first goes on then, whatever the
// room is like and the clock says. What follows, sanding and the next coat,
// waits for the stages it needs, for working hours, and a coat for a room in
// which no limit is broken.
func (p *Planner) Chain(start time.Time) Chain {
	runs := make([]run, p.members())
	for member := range runs {
		runs[member] = p.run(member, p.since(start), never)
	}
	c := Chain{Start: start, done: make([]time.Duration, len(runs))}
	ended := 0
	for m := range runs {
		c.done[m] = runs[m].done
		if runs[m].done != never {
			ended++
		}
	}
	c.Done = timesOf(c.done, p.start)
	c.Ends = share(ended, len(runs))
	for i := range p.coats {
		c.Coats = append(c.Coats, p.coatTimes(i, runs))
	}
	return c
}

// run is the chain in one member.
type run struct {
	on, ready []time.Duration
	done      time.Duration
}

// run follows the chain in one member. A coat that is not ready by an instant
// ends it: what follows is never.
func (p *Planner) run(member int, start, by time.Duration) run {
	r := run{on: make([]time.Duration, len(p.coats)), ready: make([]time.Duration, len(p.coats))}
	on := start
	for i := range p.coats {
		c := &p.coats[i]
		if i > 0 {
			on = p.follows(member, r.ready[i-1], p.coats[i-1].Work, c)
		}
		r.on[i], r.ready[i] = on, c.rested(on, p.after(c, member, on, c.Waits))
		if r.ready[i] > by {
			r.ready[i] = never
		}
	}
	r.done = p.after(&p.coats[len(p.coats)-1], member, on, []drying.Stage{p.setup.Finish})
	return r
}

// rested is when a coat that is at its stages at ready has had all it needs.
func (c *coat) rested(on, ready time.Duration) time.Duration {
	if ready == never {
		return never
	}
	return max(on+time.Duration(float64(ready-on)*max(c.Times, 1)), on+c.Least)
}

func (p *Planner) after(c *coat, member int, on time.Duration, waits []drying.Stage) time.Duration {
	if on == never {
		return never
	}
	return p.allReady(c, member, on, waits)
}

// follows returns when the next coat goes on after one that is ready.
func (p *Planner) follows(member int, ready, work time.Duration, next *coat) time.Duration {
	if ready == never {
		return never
	}
	at := p.next(p.next(ready) + work)
	if !next.NotBefore.IsZero() {
		at = p.next(max(at, p.since(next.NotBefore)))
	}
	for until := max(at, ready) + patience; at < until; {
		step := p.stepOf(at)
		if !p.at(next.kind, member, step).shut() {
			return at
		}
		at = p.next(p.endOf(step))
	}
	return never
}

func (p *Planner) coatTimes(i int, runs []run) CoatTimes {
	on, ready := make([]time.Duration, len(runs)), make([]time.Duration, len(runs))
	began, held, closed := 0, 0, 0
	for m := range runs {
		on[m], ready[m] = runs[m].on[i], runs[m].ready[i]
		if on[m] == never {
			continue
		}
		began++
		if free, _, _ := p.spoilt(&p.coats[i], m, on[m]); free != never {
			held++
		}
		if i+1 < len(p.coats) && runs[m].on[i+1] != never && runs[m].on[i+1] > p.closes(&p.coats[i], m, on[m]) {
			closed++
		}
	}
	t := CoatTimes{Start: timesOf(on, p.start), Ready: timesOf(ready, p.start)}
	if began > 0 {
		t.Chance, t.Abrade = share(held, began), share(closed, began)
	}
	return t
}
