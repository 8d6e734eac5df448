package schedule

import (
	"fmt"
	"time"

	"recoat/drying"
)

// Coat is what the room says of a coat.
type Coat struct {
	Applied   time.Time
	Estimates []drying.Estimate // by stage; a stage that is not among them is not known
	RecoatBy  time.Time         // later than this: abrade first; zero: no such limit
	ByLabel   bool              // the room was not measured: the times are the label's own
}

// Look returns what the room says of the coat with an id; false: nothing.
type Look func(coat string) (Coat, bool)

// Next is what is next on one part.
type Next struct {
	Part   string    `json:"part"` // id
	Name   string    `json:"part_name"`
	Step   Step      `json:"step"`
	Title  string    `json:"title"`
	Place  int       `json:"place"`           // of the step in the schedule, from 1
	Of     int       `json:"of"`              // steps in all
	Waits  []Waiting `json:"waits"`           // what it still waits for; none: it can be done now
	Ready  bool      `json:"ready"`           // nothing that a clock can tell is left to wait for
	Likely time.Time `json:"likely,omitzero"` // zero: now, or not known
	Low    time.Time `json:"low,omitzero"`
	High   time.Time `json:"high,omitzero"`
	Known  bool      `json:"known"` // false: no time can be told yet
	// RecoatBy is when the window of the coat below closes; zero: no limit, or
	// the step puts no coat on.
	RecoatBy time.Time `json:"recoat_by,omitzero"`
	Late     bool      `json:"late"` // the window has closed: abrade first
}

// Waiting is one thing that a step waits for.
type Waiting struct {
	Text   string    `json:"text"`
	Part   string    `json:"part"`           // the id of the part that it is about
	Coat   string    `json:"coat,omitempty"` // empty: not put on yet, or none
	Stage  string    `json:"stage,omitempty"`
	Likely time.Time `json:"likely,omitzero"`
	Low    time.Time `json:"low,omitzero"`
	High   time.Time `json:"high,omitzero"`
	Known  bool      `json:"known"` // the times are
	Touch  bool      `json:"touch"` // only the finisher can tell
}

// NextSteps says what is next on every part that has a schedule which is not
// finished, in the order of the parts, as it is at now.
func NextSteps(parts []Part, look Look, now time.Time) []Next {
	var all []Next
	for i := range parts {
		p := &parts[i]
		if at := p.At(); at < len(p.Steps) {
			all = append(all, p.next(parts, at, look, now))
		}
	}
	return all
}

// At is the place of the step that is next: the one after the last that was
// done or skipped. Steps before that one count as passed. It is the number of
// steps where all are.
func (p *Part) At() int {
	for i := len(p.Steps) - 1; i >= 0; i-- {
		if _, left := p.Marks[p.Steps[i].ID]; left {
			return i + 1
		}
	}
	return 0
}

// NextCoat returns the step that putting a product on would be, the next one
// that puts a coat on and is meant for that product or any; false: none.
func (p *Part) NextCoat(product string) (Step, bool) {
	for _, s := range p.Steps[p.At():] {
		if s.Kind.Coats() && (s.Product == "" || s.Product == product) {
			return s, true
		}
	}
	return Step{}, false
}

func (p *Part) next(parts []Part, at int, look Look, now time.Time) Next {
	s := p.Steps[at]
	n := Next{Part: p.ID, Name: p.Name, Step: s, Title: s.Title(), Place: at + 1, Of: len(p.Steps), Waits: []Waiting{}, Ready: true, Known: true}
	for _, w := range s.Waits {
		of, place, err := p.target(parts, w)
		if err != nil {
			continue // Check refuses such a schedule
		}
		n.add(of.waiting(place, w, look, now))
	}
	if s.Kind.Coats() {
		n.RecoatBy = p.window(at, look)
		n.Late = !n.RecoatBy.IsZero() && now.After(n.RecoatBy)
	}
	return n
}

// add takes up what one wait asks for; the latest counts.
func (n *Next) add(all []Waiting) {
	n.Waits = append(n.Waits, all...)
	for _, w := range all {
		if w.Touch {
			continue
		}
		n.Ready = false
		n.Known = n.Known && w.Known
		n.Likely, n.Low, n.High = later(n.Likely, w.Likely), later(n.Low, w.Low), later(n.High, w.High)
	}
	if !n.Known {
		n.Likely, n.Low, n.High = time.Time{}, time.Time{}, time.Time{}
	}
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// window is until when the newest coat before a step can be coated over.
func (p *Part) window(at int, look Look) time.Time {
	for i := at - 1; i >= 0; i-- {
		if mark, ok := p.Marks[p.Steps[i].ID]; ok && mark.Coat != "" {
			if c, ok := look(mark.Coat); ok {
				return c.RecoatBy
			}
			return time.Time{}
		}
	}
	return time.Time{}
}

// waiting says what is left of a wait for the step at a place of this part.
func (p *Part) waiting(place int, w Wait, look Look, now time.Time) []Waiting {
	if place < 0 {
		return []Waiting{{Part: p.ID, Text: p.Name + " has no coat in its schedule"}}
	}
	s := p.Steps[place]
	mark, left := p.Marks[s.ID]
	switch {
	case !left && place >= p.At():
		return []Waiting{p.undone(s, w)}
	case mark.Coat == "": // skipped, passed over, or no coat
		return touch(p.ID, w)
	}
	var all []Waiting
	if waiting, done := p.stage(s, mark.Coat, w, look, now); !done {
		all = append(all, waiting)
	}
	return append(all, touch(p.ID, w)...)
}

func (p *Part) undone(s Step, w Wait) Waiting {
	waiting := Waiting{Part: p.ID, Text: fmt.Sprintf("%s: “%s” is not done yet", p.Name, s.Title())}
	if w.Stage != nil {
		waiting.Stage = w.Stage.String()
	}
	return waiting
}

func touch(part string, w Wait) []Waiting {
	if w.Until == "" {
		return nil
	}
	return []Waiting{{Part: part, Text: "until " + w.Until, Touch: true, Known: true}}
}

// stage says what is left of a wait for a stage of a coat, and whether that is
// nothing.
func (p *Part) stage(s Step, coat string, w Wait, look Look, now time.Time) (Waiting, bool) {
	waiting := Waiting{Part: p.ID, Coat: coat}
	c, known := look(coat)
	if w.Stage != nil {
		waiting.Stage = w.Stage.String()
	}
	if !known {
		waiting.Text = fmt.Sprintf("%s: nothing is known of the coat “%s”", p.Name, s.Title())
		return waiting, w.Stage == nil && w.LeastMin == 0
	}
	waiting.Likely, waiting.Low, waiting.High, waiting.Known = c.ready(w)
	if waiting.Known && !waiting.Likely.After(now) {
		return waiting, true
	}
	waiting.Text = p.reason(s, w, c)
	return waiting, false
}

func (p *Part) reason(s Step, w Wait, c Coat) string {
	text := fmt.Sprintf("%s: “%s”", p.Name, s.Title())
	switch {
	case w.Stage == nil:
		text += " has to rest"
	case w.Times > 1:
		text += fmt.Sprintf(" needs %g times as long as to %v", w.Times, *w.Stage)
	default:
		text += fmt.Sprintf(" is not at %v yet", *w.Stage)
	}
	if c.ByLabel && w.Stage != nil {
		text += ", by the label alone: the room was not measured"
	}
	if e, ok := c.at(w.Stage); ok && len(e.Blocked) > 0 && !e.Reached && !c.ByLabel {
		text += ", and stands still: " + e.Blocked[0].Text
	}
	return text
}

// ready is when a coat has had what a wait asks for.
func (c Coat) ready(w Wait) (likely, low, high time.Time, known bool) {
	likely, low, high, known = c.Applied, c.Applied, c.Applied, true
	if w.Stage != nil {
		e, ok := c.at(w.Stage)
		if !ok || e.Likely.IsZero() {
			return time.Time{}, time.Time{}, time.Time{}, false
		}
		times := max(w.Times, 1)
		likely, low, high = c.times(e.Likely, times), c.times(e.Low, times), c.times(e.High, times)
	}
	rested := c.Applied.Add(w.least())
	return later(likely, rested), later(low, rested), later(high, rested), known
}

// times is the instant so many times as far from the coat as t.
func (c Coat) times(t time.Time, times float64) time.Time {
	if t.IsZero() || times == 1 {
		return t
	}
	return c.Applied.Add(time.Duration(float64(t.Sub(c.Applied)) * times))
}

func (c Coat) at(stage *drying.Stage) (drying.Estimate, bool) {
	if stage == nil {
		return drying.Estimate{}, false
	}
	for _, e := range c.Estimates {
		if e.Stage == *stage {
			return e, true
		}
	}
	return drying.Estimate{}, false
}
