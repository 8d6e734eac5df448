package room

import (
	"slices"

	"recoat/drying"
	"recoat/drying/air"
	"recoat/internal/alert"
	"recoat/sensors"
)

// Snapshot returns what is known of the room now. It shares nothing with the
// room.
func (r *Room) Snapshot() Snapshot {
	p := r.present()
	s := Snapshot{
		Room: r.cfg.Room, Title: r.cfg.Title, At: r.now.Wall,
		Air: p.airNow(), Verdict: r.verdict,
		Margin: r.history.margins(r.now.Wall),
		Limit:  r.cfg.Limits.DewMarginMin,
	}
	for _, x := range p.surfaces {
		s.Surfaces = append(s.Surfaces, r.surfaceNow(p, x))
	}
	for _, j := range r.jobs {
		s.Coats = append(s.Coats, r.coatNow(j))
	}
	for _, n := range r.inOrder() {
		s.Nodes = append(s.Nodes, r.nodeNow(n))
	}
	for _, e := range r.cfg.Engine.Episodes() {
		if e.State == alert.Raised || e.State == alert.Acknowledged {
			s.Alerts = append(s.Alerts, e)
		}
	}
	slices.Reverse(s.Alerts)
	return s
}

func (r *Room) surfaceNow(p present, x surface) SurfaceNow {
	c, _ := p.conditions(x.probe)
	margin, sigma := c.DewMargin(drying.TypicalUncertainty())
	return SurfaceNow{
		Probe: x.probe, Label: r.label(x.probe), ReadAt: x.readAt, Surface: x.value,
		Margin: margin, Sigma: sigma,
		AtSurface: air.HumidityAtSurface(air.VapourPressure(p.air, p.humidity), x.value),
		Measured:  true,
	}
}

// label names the part that a probe lies on, or the probe.
func (r *Room) label(probe string) string {
	for _, j := range slices.Backward(r.jobs) {
		if j.Probe == probe {
			return j.title()
		}
	}
	return probe
}

func (r *Room) coatNow(j *followed) CoatNow {
	c := CoatNow{
		ID: j.ID, Piece: j.Piece, Part: j.Part, Product: j.Product.Name, Step: j.Step,
		Applied: j.Applied, Film: j.Film, Cautions: j.Cautions,
		Estimates: slices.Clone(j.estimates), Next: next(j.estimates), RecoatBy: j.recoatBy(),
	}
	if c.Next >= 0 {
		c.Pace = c.Estimates[c.Next].Pace
		c.Stalled = c.Estimates[c.Next].Blocked
	}
	return c
}

func (r *Room) nodeNow(n *node) NodeNow {
	now := NodeNow{Node: n.name, Silent: r.now.Mono-n.heard.Mono > r.cfg.SilentAfter}
	if n.ever {
		now.Heard = n.heard.Wall
	}
	for _, x := range n.last.Readings {
		switch x.Quality {
		case sensors.Missing:
			now.Missing = append(now.Missing, x.Channel)
		case sensors.Good:
		default:
			now.Suspect = append(now.Suspect, x.Channel)
		}
	}
	return now
}
