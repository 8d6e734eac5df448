package room

import (
	"cmp"
	"math"
	"slices"
	"time"

	"recoat/drying"
	"recoat/drying/forecast"
	"recoat/internal/alert"
)

// outlook is what the forecast says of the open coats.
type outlook struct {
	chance float64 // that the conditions turn unfit for one of them while it is open
	at     time.Time
	closed time.Time // when the coat most at risk likely closes
	reason drying.Reason
	until  time.Time // when most courses are fit again; zero: not known, or fit
}

// everyCourse is how many courses of a forecast stand for one that is judged:
// to judge is dear, and fifty tell a chance to two in a hundred.
const everyCourse = 4

// nobodyKnows is the outlook without a forecast.
func nobodyKnows() outlook { return outlook{chance: math.NaN()} }

// look makes the outlook anew. It is dear, so it is done when the coats are
// reckoned and the forecast has changed.
func (r *Room) look() {
	seen := r.outlookOf()
	if seen == r.looked {
		return
	}
	r.looked, r.outlook = seen, nobodyKnows()
	for _, j := range r.jobs {
		s := r.weather.over(j.Probe, &r.history, r.now.Wall)
		e, ok := find(j.estimates, drying.TackFree)
		courses := j.courses(&r.history, s)
		if !ok || !j.open() || courses == nil || e.Likely.IsZero() || s.judged.At(e.Likely.Sub(s.as)) {
			continue // a forecast that rests on judgement wakes nobody
		}
		if o := riskOf(j, courses, r.now.Wall, e.Likely); !(o.chance <= r.outlook.chance) {
			r.outlook = o
		}
	}
	if s := r.weather.over(coldestSurface, &r.history, r.now.Wall); s.ensemble != nil {
		r.outlook.until = r.fitFrom(s.ensemble)
	}
}

// glance is what an outlook rests on: how many forecasts were made, and which
// coats are open.
type glance struct {
	made  uint64
	open  int
	last  string
	unfit bool
}

func (r *Room) outlookOf() glance {
	g := glance{unfit: r.verdict.State == drying.Unfit}
	for _, j := range r.jobs {
		if j.open() {
			g.open, g.last = g.open+1, j.ID
			g.made += r.weather.over(j.Probe, &r.history, r.now.Wall).made
		}
	}
	return g
}

// riskOf is in how many courses the conditions turn unfit for a coat before it
// is likely closed.
func riskOf(j *followed, e *drying.Ensemble, now, closed time.Time) outlook {
	o := outlook{closed: closed}
	var failing []time.Time
	reasons := map[string]int{}
	examples := map[string]drying.Reason{}
	asked := 0
	for m := 0; m < e.Members(); m += everyCourse {
		asked++
		if at, why, fails := firstUnfit(j, e, m, now, closed); fails {
			failing = append(failing, at)
			reasons[why.Code]++
			examples[why.Code] = why
		}
	}
	o.chance = float64(len(failing)) / float64(asked)
	if len(failing) == 0 {
		return o
	}
	slices.SortFunc(failing, time.Time.Compare)
	o.at = failing[len(failing)/2]
	commonest := slices.MaxFunc(codesOf(reasons), func(a, b string) int { return cmp.Or(reasons[a]-reasons[b], cmp.Compare(b, a)) })
	o.reason = examples[commonest]
	return o
}

func codesOf(counted map[string]int) []string {
	var all []string
	for code := range counted {
		all = append(all, code)
	}
	slices.Sort(all)
	return all
}

// firstUnfit is when one course first turns unfit for a coat, at the coat's own
// surface.
func firstUnfit(j *followed, e *drying.Ensemble, member int, now, closed time.Time) (time.Time, drying.Reason, bool) {
	for step := range e.Steps() {
		at := e.Start().Add(time.Duration(step) * forecast.Step)
		switch {
		case !at.Before(closed):
			return time.Time{}, drying.Reason{}, false
		case at.Before(now):
			continue
		}
		v := without(j.Product.Judge(e.Conditions(member, step), drying.TypicalUncertainty()), "saturated")
		if v.State == drying.Unfit && len(v.Reasons) > 0 {
			return at, v.Reasons[0], true
		}
	}
	return time.Time{}, drying.Reason{}, false
}

// fitFrom is when most courses are fit for coating again, where the room is
// unfit now.
func (r *Room) fitFrom(e *drying.Ensemble) time.Time {
	if r.verdict.State != drying.Unfit {
		return time.Time{}
	}
	for step := range e.Steps() {
		at := e.Start().Add(time.Duration(step) * forecast.Step)
		if !at.After(r.now.Wall) {
			continue
		}
		fit, asked := 0, 0
		for m := 0; m < e.Members(); m += everyCourse {
			asked++
			if drying.JudgeRoom(e.Conditions(m, step), drying.TypicalUncertainty(), r.cfg.Limits).State != drying.Unfit {
				fit++
			}
		}
		if 2*fit > asked {
			return at
		}
	}
	return time.Time{}
}

// afterUnfit is for how long after a room was unfit its outlook is not told:
// that it may be so again is no news.
const afterUnfit = time.Hour

// willBeUnfit says what the outlook is. What is unfit already is told as that.
func (r *Room) willBeUnfit() alert.Finding {
	facts := alert.ForecastFacts{
		Room: r.cfg.Room, Title: r.cfg.Title, Chance: r.outlook.chance,
		At: r.zoned(r.outlook.at), Closed: r.zoned(r.outlook.closed), Reason: r.outlook.reason, Now: r.now.Wall.In(r.cfg.Location),
	}
	already := r.verdict.State == drying.Unfit
	for _, j := range r.jobs {
		if j.open() {
			facts.Open = append(facts.Open, j.film())
			v, ok := j.judged(r.present())
			already = already || ok && v.State == drying.Unfit
		}
	}
	if already {
		r.unfitAt, r.everUnfit = r.now.Mono, true
	}
	f := alert.WillBeUnfit(facts)
	if len(facts.Open) > 0 && r.everUnfit && r.now.Mono-r.unfitAt < afterUnfit {
		f.Condition = alert.Unknown
	}
	return f
}
