package document

import (
	"fmt"
	"strings"
	"time"

	"recoat/internal/audit"
)

// section is a part of a document under one heading.
type section struct {
	title  string
	level  int    // 1: a coat's name, 2: a part of its record
	sum    string // its main figures in a sentence; empty: it is not folded
	lead   []string
	tables []table
	plot   *plotted
	photo  string // SHA-256 of a photo; empty: none
}

// table is rows under names of columns; without names it is pairs of a label and
// what it says.
type table struct {
	title  string
	head   []string
	widths []float64 // shares of the page; they add up to 1
	rows   [][]string
}

// plotted names the coat whose course is drawn.
type plotted struct{ coat int }

// writer turns a document into sections.
type writer struct {
	d    audit.Document
	zone *time.Location
}

func newWriter(d audit.Document) writer {
	zone := time.UTC
	if at, err := time.Parse("-07:00", d.Zone); err == nil {
		_, offset := at.Zone()
		zone = time.FixedZone("", offset)
	}
	return writer{d, zone}
}

const safety = "Times are estimates. The label and local rules come first; touch decides. Nothing here smells vapour or sees a spark: air the room, keep flames and heaters away from solvent, spread oily rags flat to dry outdoors."

const never = "The indications say what this room's record supports or contradicts. They are not a finding of fault: several causes may act at once, and most of what spoils a finish leaves no trace in a room's air."

func (w writer) sections() []section {
	var all []section
	for i := range w.d.Coats {
		all = append(all, w.coat(i)...)
	}
	return append(all, w.proof())
}

func (w writer) coat(i int) []section {
	r := &w.d.Coats[i]
	all := []section{w.summary(r), w.applied(r)}
	all = append(all, section{title: "The course of it", level: 2, plot: &plotted{i}})
	all = append(all, w.criteria(r))
	all = append(all, w.defects(r)...)
	all = append(all, w.stages(r), w.windows(r), w.label(r), w.preparation(r), w.told(r), w.sensors(r))
	return all
}

func (w writer) summary(r *audit.Record) section {
	c := &r.Coat
	s := section{title: c.Product + " on " + c.Piece + ", " + c.Part, level: 1}
	if c.Undone != nil {
		s.lead = append(s.lead, "THIS COAT WAS MARKED AS NEVER PUT ON, "+w.at(*c.Undone)+".")
	}
	counts := map[audit.Outcome][]string{}
	for _, x := range r.Criteria {
		counts[x.Outcome] = append(counts[x.Outcome], x.Title)
	}
	s.lead = append(s.lead, fmt.Sprintf("Put on %s in %s. Of %d criteria %d were met, %d were not met, and of %d it cannot be said.",
		w.at(c.Applied), c.Room, len(r.Criteria), len(counts[audit.Met]), len(counts[audit.NotMet]), len(counts[audit.Unknown])))
	if missed := counts[audit.NotMet]; len(missed) > 0 {
		s.lead = append(s.lead, "Not met: "+strings.Join(missed, "; ")+".")
	}
	for _, x := range r.Windows {
		switch {
		case x.Name != audit.ToRecoat:
		case x.Margin == nil:
			s.lead = append(s.lead, "No probe was on the piece the whole time until dry to recoat: of its dew margin then, nothing is said.")
		default:
			s.lead = append(s.lead, fmt.Sprintf("Least dew margin until dry to recoat: %s ± %s K (k = 2), %s.", x.Margin.Min, x.MarginU, w.when(x.MarginAt)))
		}
	}
	for _, e := range r.Edits {
		s.lead = append(s.lead, fmt.Sprintf("Edited later: %s, %s (change %d of the journal).", e.What, w.at(e.At), e.Seq))
	}
	return s
}

func (w writer) applied(r *audit.Record) section {
	c := &r.Coat
	t := table{widths: []float64{0.28, 0.72}}
	add := func(label, text string) {
		if text != "" {
			t.rows = append(t.rows, []string{label, text})
		}
	}
	add("Coat", c.ID)
	add("Product", fmt.Sprintf("%s, version %d of its label; %s %s", c.Product, c.Version, c.Family, c.Kind))
	add("Piece and part", c.Piece+", "+c.Part+note(", ", c.Material))
	add("Room", c.Room+" ("+c.RoomID+")")
	for _, m := range c.Moved {
		add("Moved "+w.at(m.At), moved(m))
	}
	add("Put on", w.at(c.Applied))
	add("Recorded", w.at(c.Recorded))
	add("Method", c.Method)
	add("Batch", c.Batch)
	add("Mix", c.Mix)
	add("Thinned", unit(c.ThinnedPct, "%"))
	add("Wet film", unit(c.FilmUM, "µm")+gauge(c.FilmLeast, c.FilmMost))
	add("Used", unit(c.UsedML, "ml"))
	if c.Abraded {
		add("Before it", "what lay below was abraded")
	}
	if add("Coat below", c.Below); c.BelowAt != nil {
		add("Coat below put on", w.at(*c.BelowAt))
	}
	add("Warned of", c.Warned)
	add("Put on all the same, because", c.Reason)
	add("Note", c.Note)
	return section{title: "What was put on", level: 2, sum: appliedSum(c), tables: []table{t}}
}

// moved says where a part came.
func moved(m audit.MoveFacts) string {
	to := "out of every room"
	if m.RoomID != "" {
		to = m.Room + " (" + m.RoomID + ")"
	}
	return to + note(", surface probe ", m.Probe)
}

func note(before, text string) string {
	if text == "" {
		return ""
	}
	return before + text
}

func gauge(least, most *audit.Figure) string {
	if least == nil && most == nil {
		return ""
	}
	return ", by a gauge " + figure(least) + " to " + figure(most) + " µm"
}

// figure shows a figure that may not be there.
func figure(f *audit.Figure) string {
	if f == nil {
		return "–"
	}
	return f.String()
}

func unit(f *audit.Figure, u string) string {
	if f == nil {
		return ""
	}
	return f.String() + " " + u
}

// at shows an instant on the shop's clock, with its zone.
func (w writer) at(t time.Time) string { return t.In(w.zone).Format("Mon 2 Jan 2006 15:04:05 -07:00") }

// when shows an instant that may not be there.
func (w writer) when(t *time.Time) string {
	if t == nil {
		return "–"
	}
	return t.In(w.zone).Format("Mon 2 Jan 15:04")
}

func (w writer) label(r *audit.Record) section {
	l := &r.Label
	s := section{title: "The label then", level: 2, sum: l.AirC.String() + " °C, " + l.RHPct.String() + " %, " + counted(len(l.Limits), "limit", "limits") + ".", lead: []string{"Its times hold at " + l.AirC.String() + " °C, " + l.RHPct.String() + " % relative humidity, " +
		figure(l.FilmUM) + " µm wet film. Recoat window: " + figure(l.RecoatBy) + " min."}}
	t := table{head: []string{"limit", "value", "unit", "from"}, widths: []float64{0.36, 0.14, 0.14, 0.36}}
	for _, x := range l.Limits {
		from := "the label"
		if x.Assumed {
			from = "assumed, usual for the kind"
		}
		t.rows = append(t.rows, []string{x.Key, x.Limit.String(), units(x.Unit), from})
	}
	s.tables = []table{t}
	return s
}

func (w writer) preparation(r *audit.Record) section {
	s := section{title: "The surface before it", level: 2, sum: preparationSum(r)}
	if len(r.Preparation) == 0 {
		s.lead = []string{"Surface preparation: not recorded."}
	} else {
		t := table{head: []string{"step", "done"}, widths: []float64{0.6, 0.4}}
		for _, p := range r.Preparation {
			done := "not ticked as done"
			switch {
			case p.Done != nil:
				done = w.at(*p.Done)
			case p.Skipped != nil:
				done = "left out, " + w.at(*p.Skipped)
			}
			t.rows = append(t.rows, []string{p.Title, done})
		}
		s.tables = append(s.tables, t)
	}
	if len(r.Moisture) == 0 {
		s.lead = append(s.lead, "Moisture of the wood: not recorded.")
		return s
	}
	t := table{head: []string{"wood moisture, %", "depth, mm", "read", "note"}, widths: []float64{0.18, 0.14, 0.34, 0.34}}
	for _, m := range r.Moisture {
		t.rows = append(t.rows, []string{m.WoodPct.String(), figure(m.DepthMM), w.at(m.At), m.Note})
	}
	s.tables = append(s.tables, t)
	return s
}

// units writes a unit for a person.
func units(u string) string {
	switch u {
	case "Cel":
		return "°C"
	case "%RH":
		return "% RH"
	case "um":
		return "µm"
	case "x":
		return "times"
	}
	return u
}
