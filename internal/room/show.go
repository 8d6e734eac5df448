package room

import (
	"slices"
	"time"

	"recoat/drying"
	"recoat/drying/air"
	"recoat/internal/alert"
	"recoat/sensors"
)

// Snapshot returns what is known of the room now. It shares nothing with the
// room but the forecast's courses, which do not change once they are made.
func (r *Room) Snapshot() Snapshot {
	p := r.present()
	s := Snapshot{
		Room: r.cfg.Room, Title: r.cfg.Title, At: r.now.Wall, Starting: r.starting(),
		Air: p.airNow(), Verdict: copied(r.verdict),
		Margin: r.margins(),
		Limit:  r.cfg.Limits.DewMarginMin, Limits: r.cfg.Limits,
	}
	if e := r.weather.over(coldestSurface, &r.history, r.now.Wall).ensemble; e != nil {
		s.Ahead = e
	}
	for _, x := range p.surfaces {
		if now, ok := r.surfaceNow(p, x); ok {
			s.Surfaces = append(s.Surfaces, now)
		}
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

// copied and copiedEstimates copy what the room goes on using.
func copied(v drying.Verdict) drying.Verdict {
	v.Reasons = slices.Clone(v.Reasons)
	return v
}

func copiedEstimates(list []drying.Estimate) []drying.Estimate {
	list = slices.Clone(list)
	for i := range list {
		list[i].Blocked, list[i].Doubts = slices.Clone(list[i].Blocked), slices.Clone(list[i].Doubts)
	}
	return list
}

// surfaceNow is false while the air is not known: a surface alone is not far
// from anything.
func (r *Room) surfaceNow(p present, x surfaceReading) (SurfaceNow, bool) {
	c, ok := p.over(&x)
	margin, sigma := c.DewMargin(p.uncertainty(c))
	return SurfaceNow{
		Probe: x.probe, Label: r.label(x.probe), ReadAt: x.readAt, Surface: x.value,
		Margin: margin, Sigma: sigma,
		AtSurface: air.HumidityAtSurface(air.VapourPressure(p.air, p.humidity), x.value),
		Measured:  true,
	}, ok && sensors.IsFinite(float64(margin))
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
		Applied: j.Applied, Film: j.Film, Stated: j.Product.Stated, Cautions: slices.Clone(j.Cautions), Lesson: j.Lesson, Then: j.thenNow(), Odour: j.odourNow(&r.history, r.now.Wall),
		Estimates: copiedEstimates(j.estimates), Next: next(j.estimates), RecoatBy: j.recoatBy(),
	}
	if c.Next >= 0 {
		c.Pace = c.Estimates[c.Next].Pace
		c.Stalled = slices.Clone(c.Estimates[c.Next].Blocked)
	}
	return c
}

func (r *Room) nodeNow(n *node) NodeNow {
	now := NodeNow{Node: n.name, Silent: n.silent(r.now, r.cfg.SilentAfter), Away: n.away}
	if n.ever {
		now.Heard = n.heard.Wall
	}
	for _, c := range n.inOrder() {
		switch n.channels[c].Quality {
		case sensors.Missing:
			now.Missing = append(now.Missing, c)
		case sensors.Good:
		default:
			now.Suspect = append(now.Suspect, c)
		}
	}
	return now
}

// startingFor is how long a hub that hears nobody may have only just begun.
const startingFor = time.Minute

func (r *Room) starting() bool {
	for _, n := range r.nodes {
		if n.ever {
			return false
		}
	}
	return r.now.Mono-r.began.Mono < startingFor
}
