package audit

import (
	"fmt"
	"math"
	"slices"
	"time"

	"recoat/drying"
)

// Indication is what the record says of one cause. It is never more than that.
type Indication string

// The indications.
const (
	Supports     Indication = "supports"
	Leans        Indication = "leans"
	Silent       Indication = "silent"
	LeansAgainst Indication = "leans against"
	Contradicts  Indication = "contradicts"
)

// DefectFacts is a defect that was seen, with what may have caused it.
type DefectFacts struct {
	ID     string       `json:"id"`
	Kind   string       `json:"kind"`
	Title  string       `json:"title"`
	Seen   time.Time    `json:"seen_at"`
	Place  string       `json:"place"`
	Note   string       `json:"note"`
	Photo  string       `json:"photo_sha256"`
	Seldom bool         `json:"seldom_from_conditions"`
	Causes []CauseFacts `json:"causes"`
	Remedy string       `json:"remedy"`
	Source string       `json:"source"`
}

// CauseFacts is one possible cause with the evidence for and against it.
type CauseFacts struct {
	Cause      string      `json:"cause"`
	Indication Indication  `json:"indication"`
	Why        string      `json:"why"`
	Evidence   []ClueFacts `json:"evidence"`
}

// ClueFacts is one piece of evidence.
type ClueFacts struct {
	What     string     `json:"what"`
	Window   string     `json:"window"`
	For      bool       `json:"for"` // it would speak for the cause; else against
	Holds    Outcome    `json:"holds"`
	Value    *Figure    `json:"value"`
	Expanded *Figure    `json:"expanded_uncertainty"`
	Limit    Figure     `json:"limit"`
	Unit     string     `json:"unit"`
	At       *time.Time `json:"at"`
	Why      string     `json:"why"`
}

// measured is one value of a record with how well it is known.
type measured struct {
	value, sigma float64
	unit         string
	at           time.Time
	// all is set where the value stands for the whole window without a gap: only
	// then can it speak against something.
	all    bool
	silent string
}

func (q *inquiry) defects() []DefectFacts {
	all := []DefectFacts{}
	for _, d := range q.Defects {
		f := DefectFacts{ID: d.ID, Kind: d.Kind, Title: d.Kind, Seen: utc(d.Seen), Place: d.Place, Note: d.Note, Photo: d.Photo, Causes: []CauseFacts{}}
		if k, ok := FindKind(d.Kind); ok {
			f.Title, f.Seldom, f.Remedy, f.Source = k.Title, k.Seldom, k.Remedy, k.Source
			for _, c := range k.causes {
				f.Causes = append(f.Causes, q.weigh(c, k.Seldom))
			}
		}
		all = append(all, f)
	}
	return all
}

// weigh says what the record makes of one cause.
func (q *inquiry) weigh(c cause, seldom bool) CauseFacts {
	f := CauseFacts{Cause: c.text, Evidence: []ClueFacts{}}
	var t tally
	for i, x := range c.clues {
		if n := len(f.Evidence); x.instead && i > 0 && n > 0 && f.Evidence[n-1].Value != nil {
			continue
		}
		seen := q.look(x)
		f.Evidence = append(f.Evidence, seen)
		t.count(seen)
	}
	f.Indication, f.Why = t.indication()
	switch {
	case len(c.clues) == 0:
		f.Why = "no reading of the room can tell"
	case seldom && f.Indication == Supports:
		f.Indication, f.Why = Leans, f.Why+"; but conditions seldom explain this defect"
	case seldom && f.Indication == Contradicts:
		f.Indication, f.Why = LeansAgainst, f.Why+"; but conditions seldom explain this defect"
	}
	return f
}

// tally counts evidence for and against a cause, and how much was asked.
type tally struct{ pro, contra, askedPro, askedContra int }

func (t *tally) count(c ClueFacts) {
	holds := 0
	if c.Holds == Met {
		holds = 1
	}
	if c.For {
		t.pro, t.askedPro = t.pro+holds, t.askedPro+1
	} else {
		t.contra, t.askedContra = t.contra+holds, t.askedContra+1
	}
}

func (t tally) indication() (Indication, string) {
	switch {
	case t.pro > 0 && t.contra > 0:
		return Silent, "the evidence points both ways"
	case t.pro > 1 || t.pro == 1 && t.askedPro == 1:
		return Supports, fmt.Sprintf("%d of %d signs for it were there", t.pro, t.askedPro)
	case t.pro == 1:
		return Leans, fmt.Sprintf("one of %d signs for it was there", t.askedPro)
	case t.contra > 0 && t.contra == t.askedContra:
		return Contradicts, "the conditions were clear of what would bring it on, throughout"
	case t.contra > 0:
		return LeansAgainst, fmt.Sprintf("%d of %d signs against it were there", t.contra, t.askedContra)
	}
	return Silent, "nothing measured is clear of its uncertainty, or nothing was measured"
}

// look holds one clue against the record. A sign for a cause may come of any
// part of a window that was measured; one against it needs all of the window.
func (q *inquiry) look(x clue) ClueFacts {
	m := q.measure(x)
	f := ClueFacts{What: x.says(), Window: x.window, For: x.pro, Limit: Figure(x.limit), Unit: m.unit, Holds: Unknown}
	if m.silent != "" {
		f.Why = m.silent
		return f
	}
	value, expanded := Figure(m.value), Figure(2*m.sigma)
	f.Value, f.Expanded, f.At = &value, &expanded, instant(m.at)
	clear := m.value - x.limit
	if !x.above {
		clear = -clear
	}
	switch {
	case clear < -2*m.sigma || clear == 0 || m.sigma == 0 && clear < 0:
		f.Holds, f.Why = NotMet, "the value is clear of it"
	case clear < 2*m.sigma:
		f.Why = "the difference is inside the uncertainty"
	case !x.pro && !m.all:
		f.Why = "there is a gap in the readings, so it cannot speak against"
	default:
		f.Holds, f.Why = Met, "the value is beyond it by more than its uncertainty"
	}
	return f
}

// measure finds what a clue asks for.
func (q *inquiry) measure(x clue) measured {
	switch x.what {
	case film, recoated, late, woodMoisture, tackTime, swing, washed:
		return q.told(x.what)
	}
	c, _ := q.course(x.window)
	m := measured{all: c.Covered == c.To.Sub(c.From)}
	if c.Covered == 0 {
		return measured{unit: x.what.unit(), silent: nothing}
	}
	r, sigma, onPiece := q.ranged(x.what, &c)
	m.unit, m.sigma = x.what.unit(), sigma
	if onPiece {
		if c.Measured == 0 {
			return measured{unit: m.unit, silent: noProbe}
		}
		m.all = m.all && c.Measured == c.Covered
	}
	if x.what == speed && r.MinAt.IsZero() {
		return measured{unit: m.unit, silent: "air speed was not measured"}
	}
	// A sign for a cause looks at the extreme nearest to it, one against it at
	// the extreme furthest from it.
	m.value, m.at = r.Min, r.MinAt
	if x.above == x.pro {
		m.value, m.at = r.Max, r.MaxAt
	}
	if x.what == rise {
		m.value, m.at, m.sigma = r.Max-r.Min, r.MaxAt, 0.2*math.Sqrt2
		if r.MaxAt.Before(r.MinAt) {
			m.value = 0 // it fell
		}
	}
	return m
}

func (q *inquiry) ranged(what quantity, c *drying.Course) (r drying.Range, sigma float64, onPiece bool) {
	switch what {
	case airMargin:
		return c.AirMargin, float64(c.AirSigma), false
	case dewMargin:
		return c.DewMargin, float64(c.MarginSigma), true
	case surface:
		return c.Surface, float64(q.sure.Surface), true
	case rise:
		return c.Surface, float64(q.sure.Surface), true
	case air:
		return c.Air, float64(q.sure.Air), false
	case speed:
		return c.AirSpeed, 0.05, false
	}
	return c.Humidity, float64(q.sure.Humidity), false
}

// told finds what the journal says rather than the sensors.
func (q *inquiry) told(what quantity) measured {
	m := measured{unit: what.unit(), all: true}
	switch what {
	case film:
		m = q.filmRatio(m)
	case recoated:
		m = q.interval(m)
	case late:
		m = q.lateness(m)
	case woodMoisture:
		m.silent = "the wood's moisture was not measured"
		for _, x := range q.Moisture {
			if !x.At.After(q.Coat.Applied) {
				m.value, m.sigma, m.at, m.silent = x.WoodPct, meter, x.At, ""
			}
		}
	case tackTime:
		if e, ok := stage(q.estimates, drying.TackFree); ok && e.Reached {
			m.value, m.sigma = e.Likely.Sub(q.Coat.Applied).Hours(), e.High.Sub(e.Low).Hours()/2.56/2
		} else {
			m.silent = "the model does not say when the tack went"
		}
	case swing:
		m = q.woodSwing(m)
	case washed:
		m.silent = "no wetting or washing of the day before is recorded"
		for _, s := range q.Steps {
			if s.Done.After(q.Coat.Applied.Add(-before)) && s.Done.Before(q.Coat.Applied) && s.wets() {
				m.value, m.at, m.silent = 1, s.Done, ""
			}
		}
	}
	return m
}

func (q *inquiry) filmRatio(m measured) measured {
	stated := float64(q.Coat.Product.Label.Stated.Film)
	switch {
	case stated == 0:
		m.silent = "the label states no film"
	case q.Coat.Film == 0:
		m.silent = "the film was not measured"
	default:
		m.value, m.sigma = float64(q.Coat.Film)/stated, gauge/stated
	}
	return m
}

// interval is how many times its recoat time, as reckoned, the coat below had.
func (q *inquiry) interval(m measured) measured {
	e, ok := stage(q.below, drying.DryToRecoat)
	switch {
	case q.Below == nil:
		m.silent = "no coat below is recorded"
	case !ok || e.Likely.IsZero() && e.Uncovered > 0:
		m.silent = "the model gives no time for the coat below"
	case e.Likely.IsZero(): // it stood still: what it had gained is known
		m.value, m.sigma = e.Gained, e.Gained/4
	default:
		needed := e.Likely.Sub(q.Below.Applied).Hours()
		m.value = q.Coat.Applied.Sub(q.Below.Applied).Hours() / needed
		m.sigma = m.value * e.High.Sub(e.Low).Hours() / 2.56 / needed
	}
	return m
}

// lateness is how many times the recoat window of the coat below had passed, 0
// where it was abraded.
func (q *inquiry) lateness(m measured) measured {
	switch {
	case q.Below == nil:
		m.silent = "no coat below is recorded"
	case q.Below.Product.Label.Stated.RecoatBy == 0:
		m.silent = "the label of the coat below gives no recoat window"
	case !q.Coat.Abraded:
		m.value = q.Coat.Applied.Sub(q.Below.Applied).Hours() / q.Below.Product.Label.Stated.RecoatBy.Hours()
	}
	return m
}

// woodSwing is how far the moisture that wood tends to went up and down over
// the cure, in points: of the day's means, which is what a board can follow.
func (q *inquiry) woodSwing(m measured) measured {
	c, _ := q.course(wholeCure)
	if c.Covered < 48*time.Hour {
		m.silent = "less than two days of the cure were measured"
		return m
	}
	m.all = c.Covered == c.To.Sub(c.From)
	m.value, m.sigma = q.dailySwing(c.Interval), 0.3
	return m
}

// FindKind finds a defect by its code.
func FindKind(code string) (Kind, bool) {
	i := slices.IndexFunc(kinds, func(k Kind) bool { return k.Code == code })
	if i < 0 {
		return Kind{}, false
	}
	return kinds[i], true
}

// Kinds returns every defect, in the order in which a form offers them.
func Kinds() []Kind { return slices.Clone(kinds) }
