package room

import "recoat/internal/alert"

// Bare is a part that nothing was put on yet, with a probe on it.
type Bare struct {
	ID    string
	Piece string
	Part  string
	Probe string
}

// wished asks the rules about what somebody wished to be told.
func (r *Room) wished() []alert.Finding {
	var all []alert.Finding
	for _, w := range r.wishes {
		if w.Coat == "" {
			all = append(all, alert.FitAgain(alert.FitAgainFacts{Room: r.cfg.Room, Title: r.cfg.Title, Asked: w.ID, Verdict: r.verdict}))
			continue
		}
		if f, ok := r.ahead(w); ok {
			all = append(all, f)
		}
	}
	return all
}

// ahead asks about a wish to be told before a stage comes; one to be told when
// it has come is the stage's own finding.
func (r *Room) ahead(w alert.Wish) (alert.Finding, bool) {
	if w.Ahead == 0 {
		return alert.Finding{}, false
	}
	for _, j := range r.jobs {
		if j.ID != w.Coat {
			continue
		}
		for _, e := range j.estimates {
			if e.Stage.String() == w.Stage {
				return alert.ReadyAhead(alert.AheadFacts{
					OfCoat: r.ofCoat(j), Wish: w.ID, Estimate: r.local(e), Ahead: w.Ahead, Now: r.now.Wall.In(r.cfg.Location),
				}), true
			}
		}
	}
	return alert.Finding{}, false
}

// settling asks whether the parts that wait for their first coat are as warm as
// the room.
func (r *Room) settling(p present) []alert.Finding {
	var all []alert.Finding
	for _, b := range r.bare {
		c, known := p.on(b.Probe)
		if !known || !c.SurfaceMeasured {
			continue
		}
		all = append(all, alert.NotSettled(alert.SettleFacts{
			Room: r.cfg.Room, Part: b.ID, Film: alert.Film{Piece: b.Piece, Part: b.Part}, Surface: c.Surface, Air: c.Air,
		}))
	}
	return all
}
