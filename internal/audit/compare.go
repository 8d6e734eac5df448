package audit

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"recoat/drying"
)

// Comparison is coats beside each other: a line for each thing that can be
// compared.
type Comparison struct {
	Title string         `json:"title"`
	Coats []ComparedCoat `json:"coats"`
	Lines []ComparedLine `json:"lines"`
	// Signs say which conditions go with failures; Few says why none is said.
	Signs []string `json:"signs"`
	Few   string   `json:"few,omitempty"`
}

// ComparedCoat heads one column.
type ComparedCoat struct {
	ID      string    `json:"id"`
	Name    string    `json:"name"`
	Product string    `json:"product"`
	Applied time.Time `json:"applied_at"`
	Result  Result    `json:"result"`
	Outcome string    `json:"outcome"`
}

// Result is how a coat turned out.
type Result string

// The results. Without a defect or a touch test nothing is known.
const (
	Failed  Result = "failed"
	Held    Result = "held"
	NotSaid Result = "not known"
)

// Failed reports whether the coat failed.
func (c ComparedCoat) Failed() bool { return c.Result == Failed }

// When is when the coat was put on, on the clock of its document.
func (c ComparedCoat) When() string { return c.Applied.Local().Format("2 Jan 2006 15:04") }

// ComparedLine is one thing, and what it was for each coat.
type ComparedLine struct {
	What    string   `json:"what"`
	Unit    string   `json:"unit"`
	Values  []string `json:"values"`
	Differs bool     `json:"differs"`
	figures []*Figure
}

// Compare lays records beside each other.
func Compare(title string, records []Record) Comparison {
	c := Comparison{Title: title, Coats: []ComparedCoat{}, Signs: []string{}}
	for i := range records {
		r := &records[i]
		result, outcome := outcomeOf(r)
		c.Coats = append(c.Coats, ComparedCoat{r.Coat.ID, r.Coat.Piece + ", " + r.Coat.Part, r.Coat.Product, r.Coat.Applied, result, outcome})
	}
	for _, l := range compared {
		line := ComparedLine{What: l.what, Unit: l.unit}
		for i := range records {
			v := l.of(&records[i])
			line.figures = append(line.figures, v)
			if v == nil {
				line.Values = append(line.Values, "–")
			} else {
				line.Values = append(line.Values, v.String())
			}
		}
		line.Differs = len(slices.Compact(slices.Sorted(slices.Values(line.Values)))) > 1
		c.Lines = append(c.Lines, line)
	}
	c.words(records)
	c.sign()
	return c
}

// words adds the lines that are no figures.
func (c *Comparison) words(records []Record) {
	for _, l := range []struct {
		what string
		of   func(*Record) string
	}{
		{"product", func(r *Record) string { return r.Coat.Product }},
		{"method", func(r *Record) string { return r.Coat.Method }},
		{"batch", func(r *Record) string { return r.Coat.Batch }},
		{"mix", func(r *Record) string { return r.Coat.Mix }},
		{"coat below", func(r *Record) string { return r.Coat.Below }},
		{"criteria not met", func(r *Record) string {
			var missed []string
			for _, x := range r.Criteria {
				if x.Outcome == NotMet {
					missed = append(missed, x.Title)
				}
			}
			return strings.Join(missed, "; ")
		}},
	} {
		line := ComparedLine{What: l.what}
		for i := range records {
			text := l.of(&records[i])
			if line.Values = append(line.Values, text); text == "" {
				line.Values[i] = "–"
			}
		}
		line.Differs = len(slices.Compact(slices.Sorted(slices.Values(line.Values)))) > 1
		c.Lines = append(c.Lines, line)
	}
}

// outcomeOf says how a coat turned out: a defect, or a touch that found it
// behind the time reckoned with its uncertainty, is a failure.
func outcomeOf(r *Record) (Result, string) {
	if len(r.Defects) > 0 {
		var names []string
		for _, d := range r.Defects {
			names = append(names, d.Title)
		}
		return Failed, strings.Join(names, "; ")
	}
	i := slices.IndexFunc(r.Stages, func(s StageFacts) bool { return s.Stage == drying.DryToRecoat.String() })
	dry := ""
	for _, t := range r.Touches {
		switch {
		case t.Found == "dry":
			dry = "dry by touch after " + t.AfterMin.String() + " min"
		case i >= 0 && r.Stages[i].High != nil && t.At.After(*r.Stages[i].High):
			return Failed, t.Found + " by touch after " + t.AfterMin.String() + " min, later than reckoned"
		}
	}
	if dry != "" {
		return Held, dry
	}
	return NotSaid, "no touch test found it dry, no defect is recorded"
}

// compared are the figures that are laid beside each other.
var compared = []struct {
	what, unit string
	of         func(*Record) *Figure
}{
	{"air when put on, mean", "°C", meanOf(putOn, func(w *Window) *Range { return w.Air })},
	{"relative humidity when put on, mean", "%", meanOf(putOn, func(w *Window) *Range { return w.Humidity })},
	{"least air until dry to recoat", "°C", leastOf(ToRecoat, func(w *Window) *Range { return w.Air })},
	{"least surface until dry to recoat", "°C", leastOf(ToRecoat, func(w *Window) *Range { return w.Surface })},
	{"greatest relative humidity until dry to recoat", "%", mostOf(ToRecoat, func(w *Window) *Range { return w.Humidity })},
	{"least dew margin until dry to recoat", "K", leastOf(ToRecoat, func(w *Window) *Range { return w.Margin })},
	{"wet film", "µm", func(r *Record) *Figure { return r.Coat.FilmUM }},
	{"thinned", "%", func(r *Record) *Figure { return r.Coat.ThinnedPct }},
	{"dry to recoat, reckoned", "min", func(r *Record) *Figure {
		for _, s := range r.Stages {
			if s.Stage == drying.DryToRecoat.String() {
				return s.TookMin
			}
		}
		return nil
	}},
	{"since the coat below", "h", func(r *Record) *Figure {
		if r.Coat.BelowAt == nil {
			return nil
		}
		f := Figure(r.Coat.Applied.Sub(*r.Coat.BelowAt).Hours())
		return &f
	}},
	{"measured until dry to recoat", "% of the time", func(r *Record) *Figure {
		w := windowOf(r, ToRecoat)
		if w == nil || w.LastedMin == 0 {
			return nil
		}
		f := 100 * w.CoveredMin / w.LastedMin
		return &f
	}},
}

func windowOf(r *Record, name string) *Window {
	i := slices.IndexFunc(r.Windows, func(w Window) bool { return w.Name == name })
	if i < 0 {
		return nil
	}
	return &r.Windows[i]
}

func figureOf(name string, of func(*Window) *Range, which func(*Range) Figure) func(*Record) *Figure {
	return func(r *Record) *Figure {
		w := windowOf(r, name)
		if w == nil || of(w) == nil {
			return nil
		}
		f := which(of(w))
		return &f
	}
}

func leastOf(name string, of func(*Window) *Range) func(*Record) *Figure {
	return figureOf(name, of, func(r *Range) Figure { return r.Min })
}

func meanOf(name string, of func(*Window) *Range) func(*Record) *Figure {
	return figureOf(name, of, func(r *Range) Figure { return r.Mean })
}

func mostOf(name string, of func(*Window) *Range) func(*Record) *Figure {
	return figureOf(name, of, func(r *Range) Figure { return r.Max })
}

// fewestResults is how many coats of either result are needed to say that a
// condition goes with one, and goesWith the share of pairs that have to agree. A
// judgement, no source.
const (
	fewestResults = 3
	goesWith      = 0.85
)

// sign says which figures go with failures: those that lie to one side for
// nearly every pair of a coat that failed and one that held (the pairs that
// Mann and Whitney count).
func (c *Comparison) sign() {
	failed, held := 0, 0
	for _, x := range c.Coats {
		switch x.Result {
		case Failed:
			failed++
		case Held:
			held++
		}
	}
	if failed < fewestResults || held < fewestResults {
		c.Few = fmt.Sprintf("%d coats failed and %d held: with fewer than %d of each, nothing can be said of what goes with failures.", failed, held, fewestResults)
		return
	}
	for _, l := range c.Lines {
		below, above := c.pairs(l)
		all := below + above
		if known := float64(failed * held); all == 0 || float64(all) < known/2 {
			continue
		}
		side, n := "lower", below
		if above > below {
			side, n = "higher", above
		}
		if float64(n) >= goesWith*float64(all) {
			c.Signs = append(c.Signs, fmt.Sprintf("%s: in %d of %d pairs the coat that failed had the %s value. It goes with failures; that it is the reason is not said.", l.What, n, all, side))
		}
	}
	if len(c.Signs) == 0 {
		c.Few = "No condition tells the coats that failed from those that held."
	}
}

// pairs counts the pairs of a coat that failed and one that held in which the
// failed one's value is below, or above; equal ones are left out.
func (c *Comparison) pairs(l ComparedLine) (below, above int) {
	for i, a := range l.figures {
		for k, b := range l.figures {
			switch {
			case a == nil || b == nil || c.Coats[i].Result != Failed || c.Coats[k].Result != Held:
			case *a < *b:
				below++
			case *a > *b:
				above++
			}
		}
	}
	return below, above
}
