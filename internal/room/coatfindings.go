package room

import (
	"math"
	"slices"
	"time"

	"recoat/drying"
	"recoat/drying/air"
	"recoat/internal/alert"
	"recoat/sensors"
)

// told lists the stages whose coming a finisher is told of. Sanding counts only
// where the label speaks of it: not every coat is sanded.
var told = []drying.Stage{drying.Sandable, drying.DryToRecoat, drying.Handle, drying.Cured}

// coatFindings asks the rules about one coat, and says whether the worst of
// them holds: a film that water or cold is about to spoil.
func (r *Room) coatFindings(j *followed, p present) (all []alert.Finding, spoils bool) {
	all = r.readiness(j)
	c, known := p.on(j.Probe)
	verdict := drying.Verdict{}
	if known {
		at := c
		if !c.SurfaceMeasured {
			at, _ = p.coldest()
		}
		verdict = j.Product.Judge(at, p.uncertainty(at))
	}
	for _, f := range []alert.Finding{r.filmCold(j, c, known), r.condensation(j, p)} {
		spoils = spoils || f.Condition == alert.True
		all = append(all, f)
	}
	all = append(all, r.blush(j, c, known, verdict), r.stalled(j, known, verdict))
	return append(all, r.timeFindings(j)...), spoils
}

func (r *Room) ofCoat(j *followed) alert.OfCoat {
	return alert.OfCoat{Room: r.cfg.Room, Coat: j.ID, Film: j.film()}
}

func (r *Room) readiness(j *followed) []alert.Finding {
	var all []alert.Finding
	for _, stage := range told {
		e, ok := find(j.estimates, stage)
		if ok && (stage != drying.Sandable || !e.Assumed) {
			all = append(all, r.ready(j, e))
		}
	}
	return all
}

func (r *Room) ready(j *followed, e drying.Estimate) alert.Finding {
	facts := alert.ReadyFacts{
		Room: r.cfg.Room, Coat: j.ID, Film: j.film(),
		Applied: j.Applied.In(r.cfg.Location), Estimate: r.local(e), Refuted: j.Refuted, Verdict: r.verdict,
	}
	if by := j.recoatBy(); !by.IsZero() {
		facts.RecoatBy = by.In(r.cfg.Location)
	}
	for _, w := range r.wishes {
		if w.Coat == j.ID && w.Ahead == 0 && w.Stage == e.Stage.String() {
			facts.Wish = w.ID
		}
	}
	return alert.Ready(facts)
}

// local puts an estimate's times where the shop is.
func (r *Room) local(e drying.Estimate) drying.Estimate {
	e.Likely, e.Low, e.High = e.Likely.In(r.cfg.Location), e.Low.In(r.cfg.Location), e.High.In(r.cfg.Location)
	return e
}

// over makes a finding end, untold: its film is closed, or its stage is past.
func over(f alert.Finding) alert.Finding {
	f.Condition, f.Title, f.Body = alert.False, "", ""
	return f
}

// whileOpen ends a finding once the room cannot harm the film any more.
func (j *followed) whileOpen(f alert.Finding) alert.Finding {
	if !j.open() {
		return over(f)
	}
	return f
}

func (r *Room) filmCold(j *followed, c drying.Conditions, known bool) alert.Finding {
	facts := alert.FilmColdFacts{OfCoat: r.ofCoat(j), Surface: sensors.Celsius(math.NaN()), FormsAbove: j.Product.Limits.FilmFormsAbove}
	if known && c.SurfaceMeasured && j.Product.Limits.HasFilmForms {
		facts.Surface = c.Surface
	}
	return j.whileOpen(alert.FilmCold(facts))
}

// condensation is asked of a part's own probe alone: where there is none, the
// room's coldest surface speaks.
func (r *Room) condensation(j *followed, p present) alert.Finding {
	c, known := p.on(j.Probe)
	nan := sensors.Celsius(math.NaN())
	facts := alert.CondensationFacts{OfCoat: r.ofCoat(j), Surface: nan, DewPoint: nan, Least: j.Product.Limits.DewMarginMin}
	if known && c.SurfaceMeasured {
		_, sigma := c.DewMargin(p.uncertainty(c))
		facts.Surface, facts.DewPoint, facts.Uncertainty = c.Surface, air.DewPoint(c.Air, c.Humidity), 2*sigma
	}
	return j.whileOpen(alert.Condensation(facts))
}

// blush is not raised while the room is too damp anyway: that is told, and the
// cure is the same.
func (r *Room) blush(j *followed, c drying.Conditions, known bool, v drying.Verdict) alert.Finding {
	least := j.Product.Limits.AirMarginMin
	facts := alert.BlushFacts{OfCoat: r.ofCoat(j), Margin: sensors.Kelvins(math.NaN()), Least: least}
	if known && least > 0 && !broken(v, "humid", "surface-humid") {
		facts.Margin = c.Air.Sub(air.DewPoint(c.Air, c.Humidity))
	}
	return j.whileOpen(alert.Blush(facts))
}

// stalled is not raised while the conditions are unfit for the coat: that is
// told, with what to do.
func (r *Room) stalled(j *followed, known bool, v drying.Verdict) alert.Finding {
	now := r.now.Wall.In(r.cfg.Location)
	facts := alert.StalledFacts{OfCoat: r.ofCoat(j), Pace: math.NaN(), Since: now, Now: now}
	i := next(j.estimates)
	waiting := i >= 0 && j.estimates[i].Stage != drying.Cured && now.After(j.Applied)
	if waiting && known && v.State != drying.Unfit {
		facts.Pace, facts.Blocked = j.estimates[i].Pace, j.estimates[i].Blocked
	}
	f := alert.Stalled(facts)
	switch {
	case !waiting:
		return over(f)
	case f.Condition == alert.False:
		j.slow = time.Time{}
	case j.slow.IsZero():
		j.slow = now
	}
	facts.Since = j.slow
	return alert.Stalled(facts)
}

// timeFindings ask about the times told of a coat.
func (r *Room) timeFindings(j *followed) []alert.Finding {
	now := r.now.Wall.In(r.cfg.Location)
	var all []alert.Finding
	awaited := next(j.estimates)
	for i, e := range j.estimates {
		if !slices.Contains(told, e.Stage) || e.Stage == drying.Cured || len(j.promised) <= i {
			continue
		}
		f := alert.Slipped(alert.SlippedFacts{
			OfCoat: r.ofCoat(j), Stage: e.Stage, Applied: j.Applied.In(r.cfg.Location),
			Promised: j.promised[i].Likely.In(r.cfg.Location), Likely: e.Likely.In(r.cfg.Location), Now: now,
		})
		if i != awaited {
			f = over(f)
		}
		all = append(all, f)
	}
	if e, ok := find(j.estimates, drying.DryToRecoat); ok && j.Due {
		all = append(all, alert.RecoatBy(alert.RecoatByFacts{OfCoat: r.ofCoat(j), Ready: e.Reached, By: r.zoned(j.recoatBy()), Now: now}))
	}
	return all
}

// zoned puts an instant where the shop is; none stays none.
func (r *Room) zoned(t time.Time) time.Time {
	if t.IsZero() {
		return t
	}
	return t.In(r.cfg.Location)
}

// floors are the codes of the limits that a value breaks from above.
var floors = []string{"dew-margin", "film-cold", "blush", "saturated", "air-cold", "surface-cold", "dry"}

// broken reports whether a verdict has one of the codes as a limit that does
// not hold.
func broken(v drying.Verdict, codes ...string) bool {
	return slices.ContainsFunc(v.Reasons, func(x drying.Reason) bool {
		return slices.Contains(codes, x.Code) && breaks(x)
	})
}

func breaks(x drying.Reason) bool {
	if slices.Contains(floors, x.Code) {
		return !(x.Value >= x.Limit)
	}
	return !(x.Value <= x.Limit)
}

// without leaves some reasons out of a verdict that is not fit, and judges by
// the others.
func without(v drying.Verdict, codes ...string) drying.Verdict {
	if v.State != drying.Unfit && v.State != drying.Caution {
		return v
	}
	left := drying.Verdict{State: drying.Fit}
	for _, x := range v.Reasons {
		if slices.Contains(codes, x.Code) {
			continue
		}
		left.Reasons = append(left.Reasons, x)
		left.State = max(left.State, drying.Caution)
		if v.State == drying.Unfit && breaks(x) {
			left.State = drying.Unfit
		}
	}
	return left
}
