package dashboards

import (
	"fmt"
	"math"
	"time"

	"recoat/internal/room"
	"recoat/internal/shop"
)

// coatFigures are the figures of a coat that is drying, each with where it comes
// from.
func (w words) coatFigures(s room.Snapshot, c room.CoatNow, all []due, now time.Time) []reckoning {
	out := []reckoning{w.paceFrom(s, c, now)}
	for _, e := range c.Estimates {
		out = append(out, reckoning{"from-" + e.Stage.String(), capital(stageWords[e.Stage].state), w.why(s, c, e, now)})
	}
	if !c.RecoatBy.IsZero() {
		out = append(out, w.windowFrom(c, now))
	}
	if c.Odour != nil {
		out = append(out, w.odourFrom(c, now))
	}
	if r, ok := w.nextFrom(c, all, now); ok {
		out = append(out, r)
	}
	return out
}

// paceFrom says what the pace now rests on.
func (w words) paceFrom(s room.Snapshot, c room.CoatNow, now time.Time) reckoning {
	r := reckoning{ID: "from-pace", Title: "Pace"}
	if a := s.Air; a != nil {
		r.Lines = append(r.Lines, "The air is "+w.temperature(a.Air)+" and "+percent(a.Humidity)+", read at "+w.clock(a.ReadAt, now)+".")
	}
	for _, x := range s.Surfaces {
		if x.Label == coatTitle(c) && x.Measured {
			r.Lines = append(r.Lines, "Its surface is "+w.temperature(x.Surface)+", by probe "+x.Probe+". The film dries at the temperature of the surface.")
		}
	}
	if c.Stated.Humidity > 0 {
		r.Lines = append(r.Lines, "The label's times hold at "+w.temperature(c.Stated.Air)+" and "+percent(c.Stated.Humidity)+".")
	}
	r.Lines = append(r.Lines, "So an hour here counts for "+number(c.Pace, 2)+" h on the label. How temperature, humidity, air and film make that is the drying model's; pace 1 is exactly as on the label, 0 is standing still.")
	return r
}

// windowFrom says when the recoat window closes, and why then.
func (w words) windowFrom(c room.CoatNow, now time.Time) reckoning {
	label := c.Applied.Add(c.Stated.RecoatBy)
	r := reckoning{ID: "from-window", Title: "Recoat within", Lines: []string{
		"Put on at " + w.clock(c.Applied, now) + ". The label asks for the next coat within " + spell(c.Stated.RecoatBy) + ": by " + w.clock(label, now) + ".",
	}}
	if c.RecoatBy.Before(label) {
		r.Lines = append(r.Lines, "In this room the film hardens sooner than that: its clock runs as the pace does, and on while nothing is measured.")
	} else {
		r.Lines = append(r.Lines, "No room puts that off, however slowly the film dries.")
	}
	r.Lines = append(r.Lines, "So "+w.clock(c.RecoatBy, now)+". Later than that, abrade first.")
	return r
}

func (w words) odourFrom(c room.CoatNow, now time.Time) reckoning {
	o := c.Odour
	return reckoning{"from-odour", "Likely without smell", []string{
		sentence(o.Basis),
		"So " + w.clock(o.Likely, now) + ", and between " + w.clock(o.Low, now) + " and " + w.clock(o.High, now) + " eight times in ten. A nose decides.",
	}}
}

// nextFrom are the steps of the schedules that wait for a coat.
func (w words) nextFrom(c room.CoatNow, all []due, now time.Time) (reckoning, bool) {
	r := reckoning{ID: "from-next", Title: "What waits for it"}
	for _, d := range all {
		if waitsFor(d.Next) != c.ID || !d.Known || !d.Likely.After(now) {
			continue
		}
		for _, text := range d.waits() {
			r.Lines = append(r.Lines, d.name()+": "+clause(text)+".")
		}
		r.Lines = append(r.Lines, d.name()+": "+d.Title+" not before "+w.clock(d.Likely.Round(told), now)+".")
	}
	return r, len(r.Lines) > 0
}

// filmFrom says how the wet film of a coat was come by, where it was reckoned and
// not read; empty where it was.
func (w words) filmFrom(c shop.Coat) string {
	film := w.filmFigure(c.Film).Words()
	switch spread := c.UsedML / c.AreaM2; {
	case c.Film == 0:
		return ""
	case c.FilmMost > 0 && math.Abs(float64(c.Film-(c.FilmLeast+c.FilmMost)/2)) < 0.5:
		return fmt.Sprintf("Wet film %s: the middle of what the gauge says, %s to %s.", film, w.filmFigure(c.FilmLeast).Words(), w.filmFigure(c.FilmMost).Words())
	case c.UsedML > 0 && c.AreaM2 > 0 && math.Abs(float64(c.Film)-spread) < 0.5:
		return fmt.Sprintf("Wet film %s: %s on a face of %s m²; a millilitre on a square metre lies one µm thick.", film, volumeWords(c.UsedML), shortest(c.AreaM2, 2))
	}
	return ""
}

// coatLines are the times of a coat that is drying.
func (w words) coatLines(c room.CoatNow, now time.Time) []stageLine {
	lines := w.stageLines(c.Estimates, now)
	if o := c.Odour; o != nil {
		lines = append(lines, stageLine{Stage: "Likely without smell", When: w.clock(o.Likely, now), From: "#from-odour",
			Between: "between " + w.clock(o.Low, now) + " and " + w.clock(o.High, now)})
	}
	if !c.RecoatBy.IsZero() {
		lines = append(lines, stageLine{Stage: "Recoat within, or abrade", When: w.clock(c.RecoatBy, now), From: "#from-window"})
	}
	return lines
}
