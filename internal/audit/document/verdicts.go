package document

import (
	"fmt"

	"recoat/internal/audit"
)

func (w writer) criteria(r *audit.Record) section {
	s := section{title: "Against the label and published practice", level: 2, sum: criteriaSum(r.Criteria), lead: []string{
		"± is twice the standard uncertainty (about 95 in 100). A difference inside it settles nothing, and a gap in the readings never counts as kept."}}
	t := table{head: []string{"criterion", "over", "measured", "limit", "verdict", "why", "source"}, widths: []float64{0.18, 0.11, 0.12, 0.11, 0.1, 0.19, 0.19}}
	for _, c := range r.Criteria {
		limit := "at most "
		if c.Floor {
			limit = "at least "
		}
		if limit += figure(c.Limit) + " " + units(c.Unit); c.Limit == nil {
			limit = "–"
		}
		t.rows = append(t.rows, []string{c.Title, c.Window, plusMinus(c.Value, c.Expanded, c.Unit), limit, string(c.Outcome), c.Why, c.Source})
	}
	s.tables = []table{t}
	return s
}

func plusMinus(v, u *audit.Figure, in string) string {
	if v == nil {
		return "–"
	}
	text := v.String()
	if u != nil && u.String() != "0" {
		text += " ± " + u.String()
	} else if u != nil {
		text += " (± 0)"
	}
	return text + " " + units(in)
}

func (w writer) defects(r *audit.Record) []section {
	if len(r.Defects) == 0 {
		return []section{{title: "Defects", level: 2, lead: []string{"No defect is recorded of this coat."}}}
	}
	var all []section
	for _, d := range r.Defects {
		s := section{title: "Defect: " + d.Title, level: 2, sum: w.defectSum(&d), photo: d.Photo}
		if d.Seldom {
			s.lead = append(s.lead, "Conditions seldom explain this defect: look at the surface, the product and the hand first.")
		}
		s.lead = append(s.lead, fmt.Sprintf("%s, seen %s%s%s.", d.ID, w.at(d.Seen), note("; where: ", d.Place), note("; ", d.Note)), never)
		if d.Photo != "" {
			s.lead = append(s.lead, "Photo, SHA-256 "+d.Photo+".")
		}
		for _, c := range d.Causes {
			t := table{title: c.Cause + ": " + string(c.Indication) + " – " + c.Why}
			if len(c.Evidence) > 0 {
				t.head, t.widths = []string{"sign", "speaks", "over", "value", "limit", "there", "why"}, []float64{0.25, 0.09, 0.13, 0.14, 0.08, 0.1, 0.21}
			}
			for _, e := range c.Evidence {
				t.rows = append(t.rows, w.clue(e))
			}
			s.tables = append(s.tables, t)
		}
		s.tables = append(s.tables, table{widths: []float64{0.2, 0.8}, rows: [][]string{{"What helps", d.Remedy}, {"Source", d.Source}}})
		all = append(all, s)
	}
	return all
}

func (w writer) clue(e audit.ClueFacts) []string {
	speaks, there := "for", "cannot be said"
	if !e.For {
		speaks = "against"
	}
	switch e.Holds {
	case audit.Met:
		there = "yes"
	case audit.NotMet:
		there = "no"
	}
	over := e.Window
	if e.At != nil {
		over += note(", ", w.when(e.At))
	}
	return []string{e.What, speaks, over, plusMinus(e.Value, e.Expanded, e.Unit), e.Limit.String(), there, e.Why}
}

func (w writer) stages(r *audit.Record) section {
	s := section{title: "Stages", level: 2, sum: w.stagesSum(r), lead: []string{"Reckoned: when the stage was reached, or will be, by the conditions measured. Touch is what a finger found."}}
	t := table{head: []string{"stage", "label, min", "reckoned, min", "reckoned at", "between", "no readings, min", "held up by"}, widths: []float64{0.13, 0.11, 0.11, 0.14, 0.21, 0.11, 0.19}}
	for _, x := range r.Stages {
		label := figure(x.StatedMin)
		if x.Assumed {
			label += " (assumed)"
		}
		at := w.when(x.Likely)
		if !x.Reached && x.Likely != nil {
			at += ", to come"
		}
		between := "–"
		if x.Low != nil && x.High != nil {
			between = w.when(x.Low) + " and " + w.when(x.High)
		}
		held := ""
		for _, b := range x.Blocked {
			held += note("", b) + ". "
		}
		t.rows = append(t.rows, []string{x.Stage, label, figure(x.TookMin), at, between, x.Uncovered.String(), held})
	}
	s.tables = append(s.tables, t)
	touch := table{title: "Touch tests", head: []string{"found", "after, min", "at"}, widths: []float64{0.3, 0.2, 0.5}}
	for _, x := range r.Touches {
		touch.rows = append(touch.rows, []string{x.Found, x.AfterMin.String(), w.at(x.At)})
	}
	if len(touch.rows) == 0 {
		s.lead = append(s.lead, "No touch test is recorded.")
		return s
	}
	s.tables = append(s.tables, touch)
	return s
}

// place names the room of a sensor where it is not the coat's own.
func place(room string) string {
	if room == "" {
		return ""
	}
	return room + ": "
}

func (w writer) sensors(r *audit.Record) section {
	s := section{title: "Where the readings come from", level: 2, sum: counted(len(r.Sensors), "channel", "channels") + "."}
	t := table{head: []string{"quantity", "channel", "standard uncertainty", "checked"}, widths: []float64{0.18, 0.27, 0.15, 0.4}}
	for _, x := range r.Sensors {
		check := "never checked here: the usual uncertainty of such a sensor, common practice, no source"
		if x.Check != "" {
			check = fmt.Sprintf("%s, %s by %s; gain %s, offset %s; next due %s", x.Check, x.Method, x.Who, figure(x.Gain), figure(x.Offset), w.day(x.Due))
			if x.Overdue {
				check += "; it was overdue"
			}
			check = w.day(x.From) + ": " + check
		}
		t.rows = append(t.rows, []string{x.Quantity, place(x.Room) + x.Node + ", " + x.Channel, x.Sigma.String() + " " + units(x.Unit), check})
	}
	if len(t.rows) == 0 {
		s.lead = append(s.lead, "No sensor of this room gave air temperature and humidity in this time.")
	} else {
		s.tables = append(s.tables, t)
	}
	if o := r.Outside; o != nil {
		s.lead = append(s.lead, fmt.Sprintf("Air outside until dry to recoat: %s to %s °C (mean %s), %s to %s %% relative humidity (mean %s).",
			o.Air.Min, o.Air.Max, o.Air.Mean, o.Humidity.Min, o.Humidity.Max, o.Humidity.Mean))
	} else {
		s.lead = append(s.lead, "Air outside: not recorded.")
	}
	return s
}
