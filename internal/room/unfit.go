package room

import (
	"slices"

	"recoat/drying"
	"recoat/internal/alert"
)

// ofFilm are the codes that a coat with a probe of its own is told of by rules
// of its own, and ofSurface those that a surface elsewhere says nothing of for
// such a coat.
var (
	ofFilm    = []string{"dew-margin", "film-cold", "surface-humid", "saturated", "blush"}
	ofSurface = append([]string{"surface-cold", "surface-hot"}, ofFilm...)
)

// unfit holds the room against the strictest of the open coats, each at its own
// surface or, where that is not measured, at the coldest. While a coat is being
// spoilt, as a rule of its own says, that is told, and the room is not told of as
// well: one trouble is one message.
func (r *Room) unfit(p present, spoilt map[string]bool) alert.Finding {
	now := r.now.Wall.In(r.cfg.Location)
	facts := alert.UnfitFacts{Room: r.cfg.Room, Title: r.cfg.Title, Verdict: r.ofRoom(p), Now: now, Until: r.zoned(r.outlook.until)}
	for _, j := range r.jobs {
		if !j.open() || spoilt[j.ID] {
			continue
		}
		facts.Open = append(facts.Open, j.film())
		if v, ok := j.judged(p); ok {
			facts.Verdict = worse(facts.Verdict, v)
		}
	}
	f := alert.Unfit(facts)
	early := f.Condition == alert.False && len(facts.Open) > 0 && r.verdict.State == drying.Unfit
	if len(spoilt) > 0 || early {
		f.Condition = alert.Unknown
	}
	return f
}

// ofRoom is the room's own verdict. While every open coat has a probe of its
// own, the other surfaces harm none.
func (r *Room) ofRoom(p present) drying.Verdict {
	open := slices.DeleteFunc(slices.Clone(r.jobs), func(j *followed) bool { return !j.open() })
	bare := slices.ContainsFunc(open, func(j *followed) bool {
		c, _ := p.on(j.Probe)
		return !c.SurfaceMeasured
	})
	if len(open) == 0 || bare {
		return r.verdict
	}
	return without(r.verdict, ofSurface...)
}

// judged is the verdict on one coat, without what rules of its own tell.
func (j *followed) judged(p present) (drying.Verdict, bool) {
	c, ok := p.on(j.Probe)
	own := c.SurfaceMeasured
	if !own {
		c, ok = p.coldest()
	}
	v := j.Product.Judge(c, p.uncertainty(c))
	if own {
		return without(v, ofFilm...), ok
	}
	return without(v, "blush"), ok
}

// worse returns the verdict that leaves less hope.
func worse(a, b drying.Verdict) drying.Verdict {
	if a.State == drying.Unknown || b.State > a.State {
		return b
	}
	return a
}
