package audit

import (
	"strings"
	"time"

	"recoat/drying"
)

func (q *inquiry) coatFacts() CoatFacts {
	c := &q.Coat
	f := CoatFacts{
		ID: c.ID, Piece: c.Piece, Part: c.Part.Name, Material: c.Part.Material, Room: q.Room, RoomID: c.Room,
		Product: c.Product.Label.Name, Version: c.Product.Version, Family: string(c.Product.Label.Family), Kind: c.Product.Label.Kind,
		Applied: utc(c.Applied), Recorded: utc(c.Recorded), Undone: instant(c.Undone), Method: string(c.Method), Batch: c.Batch, Mix: c.Mix,
		ThinnedPct: known(c.ThinnedPct), FilmUM: known(float64(c.Film)), FilmLeast: known(float64(c.FilmLeast)), FilmMost: known(float64(c.FilmMost)),
		UsedML: known(c.UsedML), Abraded: c.Abraded, Below: name(q.Below), Warned: c.Warned, Reason: c.Reason, Note: c.Note,
	}
	for _, m := range q.Moves {
		f.Moved = append(f.Moved, MoveFacts{utc(m.At), m.Room, m.RoomID, m.Probe})
	}
	if q.Below != nil {
		f.BelowAt = instant(q.Below.Applied)
	}
	return f
}

func (q *inquiry) labelFacts() LabelFacts {
	p := q.Coat.Product.Label
	f := LabelFacts{
		AirC: Figure(p.Stated.Air), RHPct: Figure(p.Stated.Humidity), FilmUM: known(float64(p.Stated.Film)),
		RecoatBy: known(p.Stated.RecoatBy.Minutes()), Limits: []LimitFacts{},
	}
	seen := map[string]bool{}
	for _, h := range q.courses[0].Limits {
		if !seen[h.Key] {
			seen[h.Key] = true
			f.Limits = append(f.Limits, LimitFacts{Key: h.Key, Limit: Figure(h.Limit), Unit: h.Unit, Assumed: p.IsAssumed(h.Key)})
		}
	}
	return f
}

func (q *inquiry) preparation() []StepFacts {
	all := []StepFacts{}
	for _, s := range q.Steps {
		all = append(all, StepFacts{s.Title, instant(s.Done), instant(s.Skipped)})
	}
	return all
}

func (q *inquiry) wood() []WoodFacts {
	all := []WoodFacts{}
	for _, m := range q.Moisture {
		all = append(all, WoodFacts{utc(m.At), Figure(m.WoodPct), known(m.DepthMM), m.Note})
	}
	return all
}

func (q *inquiry) sensors() []SensorFacts {
	all := []SensorFacts{}
	for _, s := range q.Sources {
		f := SensorFacts{Quantity: s.Quantity, Room: s.Room, Node: s.Node, Channel: s.Channel, Unit: s.Unit, Sigma: Figure(s.Sigma), Overdue: s.Overdue}
		if c := s.Check; c != nil {
			gain, offset := Figure(c.Gain), Figure(c.Offset)
			f.Check, f.Method, f.Who, f.From, f.Due, f.Gain, f.Offset = s.CheckID, string(c.Method), c.Who, instant(c.From), instant(c.Due), &gain, &offset
		}
		all = append(all, f)
	}
	return all
}

func (q *inquiry) windows() []Window {
	all := make([]Window, len(q.courses))
	for i := range q.courses {
		all[i] = window(q.names[i], q.ended[i], &q.courses[i])
	}
	return all
}

func window(name string, ended bool, c *drying.Course) Window {
	w := Window{
		Name: name, From: utc(c.From), To: utc(c.To), Ended: ended, LastedMin: minutes(c.To.Sub(c.From)),
		CoveredMin: minutes(c.Covered), ProbeMin: minutes(c.Measured), Gaps: []GapFacts{}, Limits: []OutsideFacts{},
	}
	for _, g := range c.Gaps {
		w.Gaps = append(w.Gaps, GapFacts{utc(g.From), utc(g.To), minutes(g.To.Sub(g.From))})
	}
	if c.Covered == 0 {
		return w
	}
	w.Air, w.Humidity, w.DewPoint = ranged(c.Air), ranged(c.Humidity), ranged(c.DewPoint)
	if c.Measured == c.Covered { // the air cannot stand in for a piece that may be colder
		u := Figure(2 * c.MarginSigma)
		w.Surface, w.AtSurface = ranged(c.Surface), ranged(c.AtSurface)
		w.Margin, w.MarginU, w.MarginAt = ranged(c.DewMargin), &u, instant(c.DewMargin.MinAt)
	}
	for _, h := range c.Limits {
		if ofSurface[h.Code] && c.Measured < c.Covered {
			continue
		}
		w.Limits = append(w.Limits, OutsideFacts{
			Code: h.Code, Limit: Figure(h.Limit), Unit: h.Unit, Worst: Figure(h.Worst), WorstAt: instant(h.WorstAt),
			OutsideMin: minutes(h.Outside), Excess: Figure(h.Excess), LongestMin: minutes(h.Longest), LongestAt: instant(h.LongestAt),
		})
	}
	return w
}

func ranged(r drying.Range) *Range { return &Range{Figure(r.Min), Figure(r.Mean), Figure(r.Max)} }

func (q *inquiry) stages() []StageFacts {
	all := []StageFacts{}
	for _, e := range q.estimates {
		f := StageFacts{
			Stage: e.Stage.String(), StatedMin: known(e.Stated.Minutes()), Assumed: e.Assumed, Reached: e.Reached,
			Likely: instant(e.Likely), Low: instant(e.Low), High: instant(e.High), Uncovered: minutes(e.Uncovered), Blocked: []string{},
		}
		if !e.Likely.IsZero() {
			f.TookMin = known(e.Likely.Sub(q.Coat.Applied).Minutes())
		}
		for _, r := range e.Blocked {
			f.Blocked = append(f.Blocked, r.Text)
		}
		all = append(all, f)
	}
	return all
}

func (q *inquiry) touches() []TouchFacts {
	all := []TouchFacts{}
	for _, t := range q.Touches {
		all = append(all, TouchFacts{utc(t.At), minutes(t.At.Sub(q.Coat.Applied)), string(t.Feel)})
	}
	return all
}

func (q *inquiry) happened() []Happened {
	all := []Happened{}
	for _, f := range drying.Findings(q.coat, q.since(q.Coat.Applied)) {
		all = append(all, Happened{f.Code, utc(f.From), utc(f.To), f.Worst.Text})
	}
	return all
}

func (q *inquiry) alerts() []AlertFacts {
	all := []AlertFacts{}
	for _, a := range q.Alerts {
		f := AlertFacts{Title: a.Title, Rule: a.Rule, Severity: a.Severity, State: a.State, Since: utc(a.Since), Ended: instant(a.Ended), Sent: []SentFacts{}}
		for _, s := range a.Sent {
			f.Sent = append(f.Sent, SentFacts{utc(s.At), s.Channel, s.Status, s.Cause})
		}
		all = append(all, f)
	}
	return all
}

func (q *inquiry) edits() []EditFacts {
	all := []EditFacts{}
	for _, e := range q.Edits {
		all = append(all, EditFacts{utc(e.At), e.Seq, strings.TrimSpace(e.What)})
	}
	return all
}

// outdoors sums up the air outside until the coat was dry to recoat.
func (q *inquiry) outdoors() *AirFacts {
	c, _ := q.course(toStage(drying.DryToRecoat))
	out := drying.Courses(q.Outside, drying.DefaultLimits(), drying.Uncertainty{}, []drying.Interval{{From: q.Coat.Applied, To: c.To.Add(time.Second)}})
	if len(q.Outside) == 0 || out[0].Covered == 0 {
		return nil
	}
	return &AirFacts{*ranged(out[0].Air), *ranged(out[0].Humidity)}
}
