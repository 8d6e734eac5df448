package drying

import (
	"math"
	"math/rand/v2"
	"time"
)

// Distribution returns when the coat may reach each stage, over the courses of
// an ensemble. Every course draws its own error of the model from the spread
// that Estimates gives as Low and High, evenly over that spread and in an order
// that the seed decides: the same seed, the same answer. What is beyond the
// ensemble's end goes on as its last day did; unlike a single outlook, it adds
// no spread for being projected, for the courses differ by themselves.
//
// Where a member reached a stage before now, its instant is found between those
// that are known: the coat's beginning, Low, Likely, High and now.
func (f *Follower) Distribution(now time.Time, e *Ensemble, seed uint64) []Spread {
	all := make([]Spread, StageCount)
	for i := range all {
		all[i] = Spread{Stage: Stage(i), applied: f.coat.Applied}
		if f.refused != nil {
			all[i].Blocked = []Reason{*f.refused}
		}
	}
	if f.refused != nil {
		return all
	}
	w := f.at(now)
	d := newDistributor(&w.run, max(now.Sub(w.applied), 0), e)
	for i := range all {
		all[i].ready = make([]float64, e.Members())
	}
	for member, luck := range draw(e.Members(), seed) {
		d.follow(member, luck)
		for i := range all {
			all[i].ready[member] = d.ways[i].ready
		}
	}
	for i := range all {
		all[i].settle()
	}
	return all
}

// luck is what a member draws besides its course.
type luck struct {
	off   float64 // by how many standard deviations its time is off
	slack float64 // how much of a gap it dried on in, 0 to 1
}

// draw returns the luck of n members: the middles of n equal shares of either
// distribution, in orders that the seed decides.
func draw(n int, seed uint64) []luck {
	all := make([]luck, n)
	middle := func(place int) float64 { return (float64(place) + 0.5) / float64(n) }
	r := rand.New(rand.NewPCG(seed, uint64(n)))
	for i, place := range r.Perm(n) {
		all[i].off = math.Sqrt2 * math.Erfinv(2*middle(place)-1)
	}
	for i, place := range r.Perm(n) {
		all[i].slack = middle(place)
	}
	return all
}

// distributor follows a coat from one instant on through one course after the
// other.
type distributor struct {
	m      *model
	e      *Ensemble
	drives []drive
	begun  [StageCount]track // where the coat stands
	from   time.Duration     // that instant, since the coat was applied
	begins time.Duration     // the ensemble, since the coat was applied
	first  int               // the step in which from lies
	ways   [StageCount]way
	now    moment      // of the step that is counted
	last   []rateOfDay // of the last day's steps
}

// rateOfDay is what a step of the last day gains, in shares per second.
type rateOfDay struct {
	rate     [StageCount]float64
	variance float64
}

func newDistributor(r *run, from time.Duration, e *Ensemble) *distributor {
	d := &distributor{
		m: r.m, e: e, drives: e.drivesOf(r.m),
		from: from, begins: e.start.Sub(r.applied), first: e.place(r.applied.Add(from)),
		last: make([]rateOfDay, e.day()),
	}
	copy(d.begun[:], r.tracks)
	return d
}

// follow walks one member.
func (d *distributor) follow(member int, l luck) {
	left := 0
	for i := range d.ways {
		d.ways[i] = begin(&d.begun[i], l, seconds(d.from))
		if d.ways[i].open() {
			left++
		}
	}
	steps, lastDay := d.e.Steps(), d.e.Steps()-len(d.last)
	for k := min(max(d.first, 0), lastDay); k < steps && left > 0; k++ {
		dries := d.see(member, k)
		if k >= lastDay {
			d.note(&d.last[k-lastDay], dries)
		}
		if dries {
			left -= d.step(k)
		}
	}
	for i := range d.ways {
		if d.ways[i].open() {
			d.beyond(i)
		}
	}
}

// step counts one step of a member's course, and returns how many stages it
// reached in it.
func (d *distributor) step(k int) (reached int) {
	from, dt := d.span(k)
	for i := range d.ways {
		w := &d.ways[i]
		if !w.open() {
			continue
		}
		w.advance(from, dt, dt*d.m.law.pace(Stage(i), d.now.times)/w.label, d.now.variance)
		if !w.open() {
			reached++
		}
	}
	return reached
}

// span returns when the part of a step begins that lies after from, and how
// long it is, in seconds. The first step reaches back to before the ensemble.
func (d *distributor) span(k int) (at, dt float64) {
	end := d.begins + time.Duration(k+1)*d.e.step
	begin := max(end-d.e.step, d.from)
	if k == 0 {
		begin = d.from
	}
	return seconds(begin), seconds(max(end-begin, 0))
}

func (d *distributor) note(r *rateOfDay, dries bool) {
	if *r = (rateOfDay{}); !dries {
		return
	}
	r.variance = d.now.variance
	for i := range d.ways {
		if w := &d.ways[i]; w.open() {
			r.rate[i] = d.m.law.pace(Stage(i), d.now.times) / w.label
		}
	}
}

// see works out the moment of a step, and says whether anything dries in it.
func (d *distributor) see(member, k int) bool {
	drive := &d.drives[member*d.e.Steps()+k]
	d.now.moist = d.e.moist(member, k, 1)
	d.now.moist.film = drive.film
	if !(d.now.moist.vapour > 0) || d.m.stopped(&d.now.moist) != 0 {
		return false
	}
	d.now.times = d.m.times(drive.rates)
	d.now.variance = d.m.variance(drive.spread, d.e.courses[member][k].measured)
	return true
}

// beyond goes on with the ensemble's last day, over and over, in whole days
// until the stage is less than a day off.
func (d *distributor) beyond(i int) {
	w, steps := &d.ways[i], len(d.last)
	gain, variance := 0.0, 0.0
	for _, r := range d.last {
		gain += r.rate[i] * seconds(d.e.step)
		variance += r.rate[i] * seconds(d.e.step) * r.variance
	}
	k := max(d.first, d.e.Steps())
	if d.from > d.begins {
		k = max(k, int((d.from-d.begins)/d.e.step))
	}
	limit := k + int(Horizon/d.e.step)
	for gain > 0 && w.open() && k < limit {
		of := (k - d.e.Steps()) % steps
		if of == 0 && w.far(gain) {
			w.gained += gain
			w.variance += variance
			k += steps
			continue
		}
		at, dt := d.span(k)
		w.advance(at, dt, dt*d.last[of].rate[i], d.last[of].variance)
		k++
	}
}
