package document

import (
	"fmt"
	"time"

	"recoat/internal/audit"
)

func (w writer) day(t *time.Time) string {
	if t == nil {
		return "–"
	}
	return t.In(w.zone).Format("2 Jan 2006")
}

func (w writer) windows(r *audit.Record) section {
	s := section{title: "What it went through", level: 2, sum: w.windowsSum(r), lead: []string{
		"Least, mean and greatest value over each span. Outside: for how long a limit was broken, how far summed over time, and the longest run. A gap is time without readings: nothing is put in its place."}}
	for i := range r.Windows {
		s.tables = append(s.tables, w.window(&r.Windows[i])...)
	}
	return s
}

func (w writer) window(x *audit.Window) []table {
	ended := ""
	if !x.Ended {
		ended = ", not over yet"
	}
	title := fmt.Sprintf("%s: %s to %s%s. Lasted %s min, measured %s min, a probe on the piece %s min.", x.Name, w.when(&x.From), w.when(&x.To), ended, x.LastedMin, x.CoveredMin, x.ProbeMin)
	for i, g := range x.Gaps {
		if i == 0 {
			title += " Gaps: "
		} else {
			title += "; "
		}
		title += fmt.Sprintf("%s to %s, %s min", w.when(&g.From), w.when(&g.To), g.Min)
	}
	if x.Air == nil {
		return []table{{title: title}}
	}
	t := table{title: title, head: []string{"", "air, °C", "surface, °C", "RH, %", "RH at surface, %", "dew point, °C", "dew margin, K"}, widths: []float64{0.1, 0.13, 0.14, 0.13, 0.17, 0.15, 0.18}}
	all := []*audit.Range{x.Air, x.Surface, x.Humidity, x.AtSurface, x.DewPoint, x.Margin}
	row := func(name string, of func(*audit.Range) audit.Figure) []string {
		cells := []string{name}
		for _, r := range all {
			if r == nil {
				cells = append(cells, "no probe")
			} else {
				cells = append(cells, of(r).String())
			}
		}
		return cells
	}
	least := row("least", func(r *audit.Range) audit.Figure { return r.Min })
	if x.MarginU != nil {
		least[len(least)-1] += " ± " + figure(x.MarginU) + ", " + w.when(x.MarginAt)
	}
	t.rows = [][]string{least, row("mean", func(r *audit.Range) audit.Figure { return r.Mean }), row("greatest", func(r *audit.Range) audit.Figure { return r.Max })}
	limits := table{head: []string{"limit", "value", "worst", "worst at", "outside, min", "unit × min", "longest, min", "longest from"}, widths: []float64{0.16, 0.12, 0.12, 0.14, 0.11, 0.1, 0.11, 0.14}}
	for _, l := range x.Limits {
		limits.rows = append(limits.rows, []string{limitWords[l.Code], l.Limit.String() + " " + units(l.Unit), l.Worst.String(), w.when(l.WorstAt),
			l.OutsideMin.String(), l.Excess.String(), l.LongestMin.String(), w.when(l.LongestAt)})
	}
	return []table{t, limits}
}

var limitWords = map[string]string{
	"air-cold": "air, least", "air-hot": "air, most", "surface-cold": "surface, least", "surface-hot": "surface, most", "dew-margin": "dew margin, least",
	"humid": "RH, most", "surface-humid": "RH at surface, most", "dry": "RH, least", "film-cold": "film, least", "blush": "air above dew point, least",
}

var happenedWords = map[string]string{"blush": "blush was likely", "condensation": "the surface was at or below the dew point", "film-cold": "too cold for the film to form", "stalled": "drying stood still"}

func (w writer) told(r *audit.Record) section {
	s := section{title: "What happened, and what was told", level: 2,
		sum: "By the model " + counted(len(r.Happened), "thing went wrong", "things went wrong") + "; " + counted(len(r.Alerts), "alert", "alerts") + "."}
	t := table{title: "By the model", head: []string{"what", "from", "to", "worst"}, widths: []float64{0.3, 0.16, 0.16, 0.38}}
	for _, h := range r.Happened {
		t.rows = append(t.rows, []string{happenedWords[h.Code], w.when(&h.From), w.when(&h.To), h.Text})
	}
	if len(t.rows) == 0 {
		s.lead = append(s.lead, "By the model nothing happened to the fresh coat: no blush, no condensation, no cold film, no standstill.")
	} else {
		s.tables = append(s.tables, t)
	}
	a := table{title: "Alerts", head: []string{"alert", "severity", "state", "since", "until", "sent"}, widths: []float64{0.3, 0.1, 0.13, 0.13, 0.13, 0.21}}
	for _, x := range r.Alerts {
		sent := ""
		for _, m := range x.Sent {
			sent += fmt.Sprintf("%s: %s, %s %s. ", m.Channel, m.Status, m.Cause, w.when(&m.At))
		}
		a.rows = append(a.rows, []string{x.Title, x.Severity, x.State, w.when(&x.Since), w.when(x.Ended), sent})
	}
	if len(a.rows) == 0 {
		s.lead = append(s.lead, "No alert is recorded for it.")
	} else {
		s.tables = append(s.tables, a)
	}
	return s
}

// proof is what makes a later alteration of the document, or of what it rests
// on, visible.
func (w writer) proof() section {
	s := section{title: "Seals", level: 1, sum: counted(len(w.d.Seals), "seal", "seals") + ".", lead: []string{
		"Each seal is a hash of a day's readings, or of the journal, and of the seal before it. They show whether anything was altered since it was sealed; they do not show that a reading was true, nor who made it, and they weigh most once a copy of this document has left the shop. recoat verify FILE checks the JSON, HTML and CSV of this record.",
		"Readings this rests on, SHA-256 of their lines of CSV: " + w.d.Evidence.String(),
		"This document, SHA-256 of its JSON: " + w.d.Digest.String(),
	}}
	if w.d.Sealing != "" {
		s.lead = append(s.lead, w.d.Sealing+".")
	}
	t := table{head: []string{"seal", "of", "count", "sealed", "root, hash, and the hash before"}, widths: []float64{0.06, 0.17, 0.11, 0.17, 0.49}}
	for _, x := range w.d.Seals {
		of := x.Room + ", " + x.Day
		if x.Room == "" {
			of = fmt.Sprintf("the journal, up to change %d", x.Last)
		}
		count := fmt.Sprint(x.Count)
		if x.Readings > 0 {
			count += fmt.Sprintf(" rounds, %d readings", x.Readings)
		}
		if x.Added > 0 {
			count += fmt.Sprintf(", %d of them late", x.Added)
		}
		if x.Dated > 0 {
			count += fmt.Sprintf(", %d dated later", x.Dated)
		}
		for _, u := range x.Unexplained {
			of += "; ALTERED BEFORE: " + u
		}
		t.rows = append(t.rows, []string{fmt.Sprint(x.Seq), of, count, x.Made, x.Root.String() + " " + x.Hash.String() + " " + x.Prev.String()})
	}
	if len(t.rows) > 0 {
		s.tables = append(s.tables, t)
	}
	s.lead = append(s.lead, safety)
	return s
}
