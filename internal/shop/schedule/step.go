package schedule

import (
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"recoat/drying"
)

// Kind is what is done in a step.
type Kind string

// The kinds. From Stain to Topcoat a product is put on.
const (
	Clean      Kind = "clean"
	Sand       Kind = "sand"
	Stain      Kind = "stain"
	Seal       Kind = "seal" // wash coat, barrier, knot sealer
	Fill       Kind = "fill" // paste filler
	Prime      Kind = "prime"
	Colour     Kind = "colour"
	Topcoat    Kind = "topcoat"
	Reassemble Kind = "reassemble"
	Other      Kind = "other" // in the finisher's own words
)

// Kinds returns every kind.
func Kinds() []Kind {
	return []Kind{Clean, Sand, Stain, Seal, Fill, Prime, Colour, Topcoat, Reassemble, Other}
}

// Coats reports whether a step of this kind puts a product on.
func (k Kind) Coats() bool {
	return slices.Contains([]Kind{Stain, Seal, Fill, Prime, Colour, Topcoat}, k)
}

// Step is one step of a part's schedule.
type Step struct {
	ID      int    `json:"id"` // 1 or more, unlike every other of the part
	Kind    Kind   `json:"kind"`
	Words   string `json:"words,omitempty"`   // own words; needed for Other
	Grits   []int  `json:"grits,omitempty"`   // of sanding, the coarsest first
	Product string `json:"product,omitempty"` // the id of what is to be put on; empty: to be chosen
	Waits   []Wait `json:"waits,omitempty"`   // every one of them
}

// Wait is what a step waits for. Steps of one part also follow each other.
type Wait struct {
	// Part is the number of the part whose step it is; 0: the same part.
	Part int `json:"part,omitempty"`
	// Step is the id of that step; 0: the part's last coat.
	Step int `json:"step,omitempty"`
	// Stage is the one its coat must have reached; nil: the step must be done.
	Stage *drying.Stage `json:"stage,omitempty"`
	// Times is how many times as long as the stage takes the coat must have
	// had; 0: once.
	Times float64 `json:"times,omitempty"`
	// LeastMin is how many minutes it must have had in any case.
	LeastMin int64 `json:"least_min,omitempty"`
	// Until is what no clock can tell, such as "no smell".
	Until string `json:"until,omitempty"`
}

// What a schedule may hold.
const (
	MostSteps    = 60
	MostWaits    = 20
	MostGrits    = 8
	LongestWords = 200 // runes
	CoarsestGrit = 16
	FinestGrit   = 10000
	mostTimes    = 20
	longestLeast = int64(366 * 24 * 60)
)

// At is a stage to wait for.
func At(s drying.Stage) *drying.Stage { return &s }

// least is how long the coat must have had in any case.
func (w Wait) least() time.Duration { return time.Duration(w.LeastMin) * time.Minute }

// Title is the step in a few words, such as "sand at 150, then 220".
func (s Step) Title() string {
	words := string(s.Kind)
	if s.Words != "" {
		words = s.Words
	}
	if len(s.Grits) > 0 {
		grits := make([]string, len(s.Grits))
		for i, g := range s.Grits {
			grits[i] = fmt.Sprint(g)
		}
		words += " at " + strings.Join(grits, ", then ")
	}
	return words
}

// check says what is wrong with a step by itself.
func (s Step) check() error {
	switch {
	case s.ID < 1 || s.ID > 1000:
		return fmt.Errorf("the step has the id %d: give it one from 1 to 1000", s.ID)
	case !slices.Contains(Kinds(), s.Kind):
		return fmt.Errorf("step %d is of the kind %q: one of %s would do", s.ID, s.Kind, kindNames())
	case s.Kind == Other && s.Words == "":
		return fmt.Errorf("step %d has no words: say what is to be done", s.ID)
	case utf8.RuneCountInString(s.Words) > LongestWords:
		return fmt.Errorf("step %d has %d characters: at most %d fit", s.ID, utf8.RuneCountInString(s.Words), LongestWords)
	case len(s.Grits) > 0 && s.Kind != Sand:
		return fmt.Errorf("step %d (%s) has grits: only sanding has", s.ID, s.Title())
	case s.Product != "" && !s.Kind.Coats():
		return fmt.Errorf("step %d (%s) names a product: only a coat does", s.ID, s.Title())
	case len(s.Grits) > MostGrits || len(s.Waits) > MostWaits:
		return fmt.Errorf("step %d (%s) holds too much: at most %d grits and %d waits", s.ID, s.Kind, MostGrits, MostWaits)
	}
	for _, g := range s.Grits {
		if g < CoarsestGrit || g > FinestGrit {
			return fmt.Errorf("step %d sands at %d: a grit is %d to %d", s.ID, g, CoarsestGrit, FinestGrit)
		}
	}
	for _, w := range s.Waits {
		if err := w.check(); err != nil {
			return fmt.Errorf("step %d (%s): %w", s.ID, s.Title(), err)
		}
	}
	return nil
}

func (w Wait) check() error {
	switch {
	case w.Part < 0 || w.Step < 0:
		return fmt.Errorf("it waits for part %d, step %d: numbers begin at 1", w.Part, w.Step)
	case w.Stage != nil && int(*w.Stage) >= drying.StageCount:
		return fmt.Errorf("it waits for %v: there is no such stage", *w.Stage)
	case !(w.Times >= 0 && w.Times <= mostTimes):
		return fmt.Errorf("it waits %v times as long: 0 to %d would do", w.Times, mostTimes)
	case w.LeastMin < 0 || w.LeastMin > longestLeast:
		return fmt.Errorf("it waits at least %d minutes: up to a year would do", w.LeastMin)
	case w.Stage == nil && w.Times != 0:
		return fmt.Errorf("it waits %v times as long as no stage: say which", w.Times)
	case utf8.RuneCountInString(w.Until) > LongestWords:
		return fmt.Errorf("what it waits for has %d characters: at most %d fit", utf8.RuneCountInString(w.Until), LongestWords)
	}
	return nil
}

func kindNames() string {
	names := make([]string, len(Kinds()))
	for i, k := range Kinds() {
		names[i] = string(k)
	}
	return strings.Join(names, ", ")
}
