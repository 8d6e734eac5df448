package room

import (
	"strings"

	"recoat/drying"
	"recoat/internal/alert"
	"recoat/sensors"
)

// told lists the stages whose coming a finisher is told of.
var told = []drying.Stage{drying.DryToRecoat, drying.Handle, drying.Cured}

// findings asks every rule about this instant.
func (r *Room) findings() []alert.Finding {
	var all []alert.Finding
	for _, j := range r.jobs {
		for _, stage := range told {
			if e, ok := find(j.estimates, stage); ok {
				all = append(all, r.ready(j, e))
			}
		}
	}
	all = append(all, r.unfit())
	for _, n := range r.inOrder() {
		all = append(all, r.silent(n))
		for _, c := range n.inOrder() {
			all = append(all, r.mute(n, n.channels[c]))
		}
	}
	return all
}

func (r *Room) ready(j *followed, e drying.Estimate) alert.Finding {
	e.Likely, e.Low, e.High = e.Likely.In(r.cfg.Location), e.Low.In(r.cfg.Location), e.High.In(r.cfg.Location)
	facts := alert.ReadyFacts{
		Room: r.cfg.Room, Coat: j.ID, Film: j.film(),
		Applied: j.Applied.In(r.cfg.Location), Estimate: e, Refuted: j.Refuted, Verdict: r.verdict,
	}
	if by := j.recoatBy(); !by.IsZero() {
		facts.RecoatBy = by.In(r.cfg.Location)
	}
	return alert.Ready(facts)
}

// unfit holds the room against the strictest of the open coats, each at its own
// surface or, where that is not measured, at the coldest.
func (r *Room) unfit() alert.Finding {
	now := r.now.Wall.In(r.cfg.Location)
	facts := alert.UnfitFacts{Room: r.cfg.Room, Title: r.cfg.Title, Verdict: r.verdict, Now: now}
	p := r.present()
	for _, j := range r.jobs {
		if !j.open() {
			continue
		}
		facts.Open = append(facts.Open, j.film())
		c, ok := p.on(j.Probe)
		if !c.SurfaceMeasured {
			c, ok = p.coldest()
		}
		if ok {
			facts.Verdict = worse(facts.Verdict, j.Product.Judge(c, drying.TypicalUncertainty()))
		}
	}
	return alert.Unfit(facts)
}

// worse returns the verdict that leaves less hope.
func worse(a, b drying.Verdict) drying.Verdict {
	if a.State == drying.Unknown || b.State > a.State {
		return b
	}
	return a
}

// silent asks after a node. Silence is reckoned from when the hub last heard
// it, or began to listen.
func (r *Room) silent(n *node) alert.Finding {
	facts := alert.SilentFacts{
		Room: r.cfg.Room, Title: r.cfg.Title, Node: n.name,
		Silent: r.now.Mono-n.heard.Mono > r.cfg.SilentAfter,
		Now:    r.now.Wall.In(r.cfg.Location),
	}
	if n.ever {
		facts.Heard = n.heard.Wall.In(r.cfg.Location)
	}
	for _, j := range r.jobs {
		if j.open() {
			facts.Open = append(facts.Open, j.film())
		}
	}
	return alert.SensorSilent(facts)
}

// mute asks after one channel of a node. A node that is not heard says nothing
// of its channels.
func (r *Room) mute(n *node, x said) alert.Finding {
	facts := alert.MuteFacts{
		Room: r.cfg.Room, Title: r.cfg.Title, Node: n.name, Channel: x.Channel.String(),
		Measures: r.measures(x.Channel), Now: r.now.Wall.In(r.cfg.Location),
	}
	quiet := r.now.Mono - x.good.Mono
	switch {
	case !n.recent(r.now):
		facts.Mute = alert.Unknown
	case quiet > r.cfg.SilentAfter:
		facts.Mute = alert.True
	case x.Quality == sensors.Good:
		facts.Mute = alert.False
	}
	if x.ever {
		facts.Since = x.good.Wall.In(r.cfg.Location)
	}
	for _, j := range r.jobs {
		own := x.Channel.Quantity != sensors.SurfaceTemperature || x.Channel.Probe == j.Probe
		if j.open() && own {
			facts.Open = append(facts.Open, j.film())
		}
	}
	return alert.SensorMute(facts)
}

// measures names a channel for a person.
func (r *Room) measures(c sensors.Channel) string {
	name := strings.ReplaceAll(c.Quantity.String(), "-", " ")
	if c.Probe == "" {
		return name
	}
	return name + ", " + r.label(c.Probe)
}

// retire ends what was said of coats that are followed no more, or that a touch
// test has refuted since.
func (r *Room) retire(old []*followed) []Effect {
	stays := map[alert.Key]bool{}
	for _, j := range r.jobs {
		for _, key := range r.readyKeys(j) {
			stays[key] = true
		}
	}
	var gone []alert.Transition
	for _, j := range old {
		for _, key := range r.readyKeys(j) {
			if stays[key] {
				continue
			}
			if t, ok := r.cfg.Engine.Retire(key, r.now); ok {
				gone = append(gone, t)
			}
		}
	}
	return r.notify(gone)
}

func (r *Room) readyKeys(j *followed) []alert.Key {
	keys := make([]alert.Key, len(told))
	for i, stage := range told {
		keys[i] = r.ready(j, drying.Estimate{Stage: stage}).Key
	}
	return keys
}

func (j Job) film() alert.Film { return alert.Film{Piece: j.Piece, Part: j.Part} }
