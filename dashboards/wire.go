package dashboards

import (
	"time"

	"recoat/drying"
	"recoat/internal/alert"
	"recoat/internal/room"
	"recoat/sensors"
)

// mapped applies f to each; the result is never nil, so that JSON has a list.
func mapped[A, B any](list []A, f func(A) B) []B {
	out := make([]B, 0, len(list))
	for _, a := range list {
		out = append(out, f(a))
	}
	return out
}

// instant is nil for the zero time, which JSON has no word for.
func instant(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	return &t
}

func toAir(a *room.AirNow) *wireAir {
	if a == nil {
		return nil
	}
	return &wireAir{
		ReadAt: a.ReadAt, AirC: float64(a.Air), HumidityPct: float64(a.Humidity),
		DewPointC: float64(a.DewPoint), WetBulbC: float64(a.WetBulb),
		PressureHPa: float64(a.Pressure) / 100, AbsoluteGM3: a.AbsoluteGM3, WoodEMCPct: a.WoodEMC,
	}
}

func toSurface(s room.SurfaceNow) wireSurface {
	return wireSurface{
		Probe: s.Probe, Label: s.Label, ReadAt: s.ReadAt, SurfaceC: float64(s.Surface),
		MarginC: float64(s.Margin), SigmaC: float64(s.Sigma), AtSurfacePct: float64(s.AtSurface),
		Measured: s.Measured,
	}
}

func toMargin(p room.MarginPoint) wireMargin {
	m := wireMargin{At: p.At, Projected: p.Projected}
	if !p.Known {
		return m
	}
	m.MarginC = kelvins(p.Margin)
	if p.Projected {
		m.LowC, m.HighC = kelvins(p.Low), kelvins(p.High)
	}
	return m
}

func kelvins(k sensors.Kelvins) *float64 {
	v := float64(k)
	return &v
}

func toCoat(c room.CoatNow) wireCoat {
	out := wireCoat{
		ID: c.ID, Piece: c.Piece, Part: c.Part, Product: c.Product, Step: c.Step, Applied: c.Applied,
		FilmUm: float64(c.Film), Pace: c.Pace, RecoatBy: instant(c.RecoatBy), Stages: mapped(c.Estimates, toStage),
		Lesson: c.Lesson,
	}
	if o := c.Odour; o != nil {
		out.Odour = &wireOdour{o.Likely, o.Low, o.High, o.Basis}
	}
	if t := c.Then; t != nil {
		out.Then = &wireThen{At: t.At, Chance: t.Chance, Good: t.Good, Fails: t.Fails, NextGood: instant(t.NextGood)}
	}
	if e, ok := awaited(c); ok {
		out.Next = e.Stage.String()
	}
	return out
}

func toStage(e drying.Estimate) wireStage {
	return wireStage{
		Stage: e.Stage, StatedMin: e.Stated.Minutes(), Assumed: e.Assumed, Reached: e.Reached,
		Likely: instant(e.Likely), Low: instant(e.Low), High: instant(e.High), Blocked: e.Blocked, Doubts: e.Doubts,
	}
}

func toNode(n room.NodeNow) wireNode {
	return wireNode{
		Node: n.Node, Heard: instant(n.Heard), Silent: n.Silent,
		Missing: mapped(n.Missing, sensors.Channel.String), Suspect: mapped(n.Suspect, sensors.Channel.String),
	}
}

func toAlert(e alert.Episode) wireAlert {
	return wireAlert{
		ID: e.ID, Rule: e.Key.Rule, State: e.State.String(), Severity: e.Severity.String(),
		Title: e.Title, Body: e.Body, Since: e.Since,
	}
}
