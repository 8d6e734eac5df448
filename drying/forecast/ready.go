package forecast

import (
	"math"
	"slices"
	"time"

	"recoat/drying"
)

// readyTest scores when the stages of coats were ready, by the drying model
// over the conditions that came against the same model over those forecast. A
// coat goes on whenever a forecast is made. Times are hours, and none is looked
// at beyond the Horizon: a stage not ready by then is ready then, for the truth
// and the forecasts alike.
type readyTest struct {
	product drying.Product
	grid    *grid
	naive   [drying.StageCount][2]naive // last value, yesterday
	waiting []readyError
	all     tally
	byLead  []tally
}

// readyError is an error of the naive forecasts that is not known before an
// instant.
type readyError struct {
	known time.Time
	stage drying.Stage
	error [2]float64
}

// soonest is the earliest median that is scored: a coat that is ready sooner
// needs no forecast.
const soonest = 2 * time.Hour

// readyMembers is how many trajectories a coat is followed through.
const readyMembers = 100

func newReadyTest(p drying.Product, g *grid) *readyTest {
	return &readyTest{product: p, grid: g, byLead: make([]tally, len(ScoredLeads()))}
}

// hours are how long each stage takes, NaN where that cannot be said.
type hours [drying.StageCount]float64

// score follows a coat that goes on when the ensemble was made. Only samples
// before fed were known then; the last of them stands until the next one comes,
// or the truth would begin to dry late.
func (r *readyTest) score(e *Ensemble, samples []drying.Sample, fed int, each func(Issued)) {
	r.settle(e.At)
	truth, ok := r.truth(e.At, samples[max(fed-1, 0):])
	if !ok {
		return
	}
	last, yesterday := r.along(e.At, r.hold(e.At, 0)), r.along(e.At, r.hold(e.At, perDay))
	said := r.members(e)
	for _, s := range drying.Stages() {
		r.stage(e.At, s, said[s], [2]float64{last[s], yesterday[s]}, truth[s], each)
		r.waiting = append(r.waiting, readyError{
			known: e.At.Add(hoursOf(truth[s])), stage: s, error: [2]float64{truth[s] - last[s], truth[s] - yesterday[s]},
		})
	}
}

func hoursOf(h float64) time.Duration { return time.Duration(h * float64(time.Hour)) }

// settle lets the naive forecasts learn what has become known.
func (r *readyTest) settle(now time.Time) {
	r.waiting = slices.DeleteFunc(r.waiting, func(w readyError) bool {
		if w.known.After(now) {
			return false
		}
		for k := range w.error {
			r.naive[w.stage][k].learn(w.error[k])
		}
		return true
	})
}

// stage scores one stage of one coat. Which are scored depends on the forecast
// alone, never on what came of it.
func (r *readyTest) stage(at time.Time, s drying.Stage, said quantiles, naive [2]float64, truth float64, each func(Issued)) {
	lead := hoursOf(said[1])
	if lead < soonest || said[0] >= Horizon.Hours() {
		return
	}
	last, ok := r.naive[s][0].say(naive[0])
	yesterday, too := r.naive[s][1].say(naive[1])
	if !ok || !too {
		return
	}
	all := [3]quantiles{said, last.within(), yesterday.within()}
	block := int(at.Sub(r.grid.start) / Horizon)
	r.all.add(block, truth, all)
	k, _ := slices.BinarySearch(ScoredLeads(), lead)
	r.byLead[k].add(block, truth, all)
	if each != nil {
		each(Issued{at, at.Add(lead), "ready " + s.String(), said[0], said[1], said[2], truth})
	}
}

func (q quantiles) within() quantiles {
	for k := range q {
		q[k] = math.Min(math.Max(q[k], 0), Horizon.Hours())
	}
	return q
}

// truth is by the readings that came; false where they have gaps, or end.
func (r *readyTest) truth(at time.Time, came []drying.Sample) (hours, bool) {
	end := at.Add(Horizon)
	n, _ := slices.BinarySearchFunc(came, end, func(s drying.Sample, t time.Time) int { return s.At.Compare(t) })
	if n == len(came) {
		return hours{}, false
	}
	all := drying.Follow(r.coat(at), came[:n], end, nil)
	for _, e := range all {
		if e.Uncovered > Step {
			return hours{}, false
		}
	}
	return until(at, all), true
}

func (r *readyTest) coat(at time.Time) drying.Coat {
	return drying.Coat{Product: r.product, Applied: at}
}

// until turns estimates into hours from at, at most the Horizon.
func until(at time.Time, all []drying.Estimate) hours {
	var h hours
	for i, e := range all {
		h[i] = Horizon.Hours()
		if !e.Likely.IsZero() {
			h[i] = math.Min(e.Likely.Sub(at).Hours(), h[i])
		}
	}
	return h
}

// along is by one course that the room may take. After the Horizon, where no
// time is looked at, the coat dries as the label says, to be done with it soon.
func (r *readyTest) along(at time.Time, ahead drying.Outlook) hours {
	label, end := r.product.Stated, at.Add(Horizon)
	after := drying.Conditions{Air: label.Air, Humidity: label.Humidity, Surface: label.Air}
	return until(at, drying.Follow(r.coat(at), nil, at, func(t time.Time) (drying.Conditions, bool) {
		if !t.Before(end) {
			return after, true
		}
		return ahead(t)
	}))
}

// hold is the course of the steps before at over and over: the last one, or as
// many as were said.
func (r *readyTest) hold(at time.Time, steps int) drying.Outlook {
	return func(t time.Time) (drying.Conditions, bool) {
		i := r.grid.lastBy(at)
		if steps > 0 {
			i -= steps - 1 - int(t.Sub(at)/Step)%steps
		}
		return r.grid.conditions(i)
	}
}

// members are the quantiles over the members of an ensemble.
func (r *readyTest) members(e *Ensemble) [drying.StageCount]quantiles {
	n := min(readyMembers, e.Members())
	var each [drying.StageCount][]float64
	for m := range n {
		for s, h := range r.along(e.At, e.Outlook(m)) {
			each[s] = append(each[s], h)
		}
	}
	var all [drying.StageCount]quantiles
	for s := range each {
		slices.Sort(each[s])
		all[s] = atLevels(each[s])
	}
	return all
}
