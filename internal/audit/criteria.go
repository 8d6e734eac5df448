package audit

import (
	"fmt"
	"time"

	"recoat/drying"
)

// Outcome is whether a criterion was met.
type Outcome string

// The outcomes.
const (
	Met     Outcome = "met"
	NotMet  Outcome = "not met"
	Unknown Outcome = "cannot be said"
)

// Criterion is one thing that the coat is held against. Value and Expanded (two
// standard uncertainties) are null where nothing was measured.
type Criterion struct {
	Title    string  `json:"title"`
	Window   string  `json:"window"`
	Outcome  Outcome `json:"outcome"`
	Value    *Figure `json:"value"`
	Expanded *Figure `json:"expanded_uncertainty"`
	Limit    *Figure `json:"limit"`
	Floor    bool    `json:"at_least"` // else at most
	Unit     string  `json:"unit"`
	Why      string  `json:"why"`
	Source   string  `json:"source"`
}

// bar is a limit with what was measured against it.
type bar struct {
	title, window, unit, source string
	limit                       float64
	floor                       bool
	value, sigma                float64
	silent                      string        // why nothing is known at all; empty: something is
	gap                         time.Duration // of the window that no reading covers
	going                       bool          // the window has not ended
}

// judge weighs a value against its limit. A difference inside the expanded
// uncertainty says nothing, and a gap never counts as kept.
func (b bar) judge() Criterion {
	limit := Figure(b.limit)
	c := Criterion{Title: b.title, Window: b.window, Limit: &limit, Floor: b.floor, Unit: b.unit, Source: b.source, Outcome: Unknown}
	if b.silent != "" {
		c.Why = b.silent
		return c
	}
	value, expanded := Figure(b.value), Figure(2*b.sigma)
	c.Value, c.Expanded = &value, &expanded
	clear := b.value - b.limit
	if !b.floor {
		clear = -clear
	}
	switch {
	case clear < -2*b.sigma:
		c.Outcome, c.Why = NotMet, "the value is outside by more than its uncertainty"
	case clear < 2*b.sigma:
		c.Why = "the difference is inside the uncertainty"
	case b.gap > 0:
		c.Why = fmt.Sprintf("what was measured kept to it, but %s min were not", minutes(b.gap))
	case b.going:
		c.Why = "kept so far; the time is not over"
	default:
		c.Outcome, c.Why = Met, "the value keeps to it by more than its uncertainty"
	}
	return c
}

// noProbe is why a surface without a probe is not judged.
const noProbe = "no probe was on the piece: the air cannot stand in for a piece that may be colder"

const nothing = "no reading covers any of this time"

// The published practice, each with where it was read.
const (
	ofHandbook  = "MIL-HDBK-1110 (1996), in UFC 3-190-06 (2004)"
	ofWood      = "Wood Handbook, FPL-GTR-190 (2010), chapter 16"
	ofPractice  = "common practice, no source"
	ofLabel     = "the label"
	ofKind      = "assumed: usual for the kind; the label does not say"
	fiveDegrees = 5.0 / 1.8 // 5 °F, in kelvins
)

func (q *inquiry) criteria() []Criterion {
	var all []Criterion
	all = append(all, q.byLabel()...)
	all = append(all, q.byPractice()...)
	all = append(all, q.byInterval()...)
	all = append(all, q.byFilm())
	if c, ok := q.byWood(); ok {
		all = append(all, c)
	}
	return all
}

var limitTitles = map[string]string{
	"air-cold": "air warm enough", "air-hot": "air not too warm", "surface-cold": "surface warm enough", "surface-hot": "surface not too warm",
	"dew-margin": "surface above the dew point", "humid": "air dry enough", "surface-humid": "air at the surface dry enough", "dry": "air damp enough",
	"film-cold": "warm enough for the film to form", "blush": "air above its dew point, against blush",
}

var ofSurface = map[string]bool{"surface-cold": true, "surface-hot": true, "dew-margin": true, "surface-humid": true, "film-cold": true}

// byLabel holds the coat against the label's limits until it was dry to recoat;
// blush concerns the open film alone.
func (q *inquiry) byLabel() []Criterion {
	var all []Criterion
	for i, h := range q.courses[0].Limits {
		name := toStage(drying.DryToRecoat)
		if h.Code == "blush" {
			name = openFilm
		}
		source := ofLabel
		if q.Coat.Product.Label.IsAssumed(h.Key) {
			source = ofKind
		}
		c, ended := q.course(name)
		b := bar{title: limitTitles[h.Code], window: name, unit: h.Unit, source: source + ", " + h.Key, limit: h.Limit, floor: h.Floor}
		all = append(all, b.over(&c, ended, c.Limits[i].Worst, c.Limits[i].Sigma, ofSurface[h.Code]).judge())
	}
	return all
}

// over fills the bar from a window.
func (b bar) over(c *drying.Course, ended bool, value, sigma float64, surface bool) bar {
	b.value, b.sigma, b.going = value, sigma, !ended
	b.gap = c.To.Sub(c.From) - c.Covered
	switch {
	case c.Covered == 0:
		b.silent = nothing
	case surface && c.Measured == 0:
		b.silent = noProbe
	case surface && c.Measured < c.Covered:
		b.gap += c.Covered - c.Measured
	}
	return b
}

func (q *inquiry) byPractice() []Criterion {
	on, onEnded := q.course(putOn)
	day, dayEnded := q.course(firstDay)
	var all []Criterion
	add := func(b bar, c *drying.Course, ended bool, v, sigma float64, surface bool) {
		all = append(all, b.over(c, ended, v, sigma, surface).judge())
	}
	air, wet := float64(q.sure.Air), float64(q.sure.Humidity)
	add(bar{title: "surface at least 5 °F above the dew point when coating", window: putOn, unit: "K", source: ofHandbook + ", 9.6.6", limit: fiveDegrees, floor: true},
		&on, onEnded, on.DewMargin.Min, float64(on.MarginSigma), true)
	add(bar{title: "air at least 45 °F when coating", window: putOn, unit: "Cel", source: ofHandbook + ", 7.4.1", limit: (45.0 - 32) / 1.8, floor: true}, &on, onEnded, on.Air.Min, air, false)
	add(bar{title: "air at most 90 °F when coating", window: putOn, unit: "Cel", source: ofHandbook + ", 7.4.1", limit: (90.0 - 32) / 1.8}, &on, onEnded, on.Air.Max, air, false)
	add(bar{title: "relative humidity at most 85 % when coating", window: putOn, unit: "%RH", source: "general practice in secondary guides; the primary clause was not read", limit: 85}, &on, onEnded, on.Humidity.Max, wet, false)
	switch q.Coat.Product.Label.Family {
	case drying.Waterborne:
		add(bar{title: "wood at least 10 °C for a day", window: firstDay, unit: "Cel", source: ofWood, limit: 10, floor: true}, &day, dayEnded, day.Surface.Min, float64(q.sure.Surface), true)
	case drying.Oxidising:
		add(bar{title: "wood at least 4 °C for a day", window: firstDay, unit: "Cel", source: ofWood, limit: 4, floor: true}, &day, dayEnded, day.Surface.Min, float64(q.sure.Surface), true)
	case drying.Solvent:
		film, ended := q.course(openFilm)
		add(bar{title: "air at least 20 °F above its dew point while open", window: openFilm, unit: "K", source: "a finishing-trade forum: practice, not science", limit: 20 / 1.8, floor: true},
			&film, ended, film.AirMargin.Min, float64(film.AirSigma), false)
	}
	return all
}

// byInterval holds the time since the coat below against what that one needed,
// by the conditions it had, and against its recoat window.
func (q *inquiry) byInterval() []Criterion {
	c := Criterion{Title: "coat below dry to recoat", Window: "between the coats", Unit: "min", Floor: true, Outcome: Unknown, Source: ofLabel + " of the coat below, reckoned by the conditions"}
	if q.Below == nil {
		c.Why = "no coat below is recorded"
		return []Criterion{c}
	}
	waited := q.Coat.Applied.Sub(q.Below.Applied)
	value := minutes(waited)
	c.Value = &value
	if e, ok := stage(q.below, drying.DryToRecoat); ok {
		c.weighInterval(e, q.Below.Applied, q.Coat.Applied)
	}
	all := []Criterion{c}
	if by := q.Below.Product.Label.Stated.RecoatBy; by > 0 {
		limit := minutes(by)
		w := Criterion{Title: "within the recoat window of the coat below, or abraded", Window: "between the coats", Unit: "min", Value: &value, Limit: &limit, Source: ofLabel + " of the coat below, stated.recoat_by"}
		switch {
		case waited <= by:
			w.Outcome, w.Why = Met, "the coat went on before the window closed"
		case q.Coat.Abraded:
			w.Outcome, w.Why = Met, "later than the window, but the coat below was abraded"
		default:
			w.Outcome, w.Why = NotMet, "later than the window, and no abrading is recorded"
		}
		all = append(all, w)
	}
	return all
}

func (c *Criterion) weighInterval(e drying.Estimate, from, at time.Time) {
	switch {
	case !e.Likely.IsZero():
	case e.Uncovered == 0 && e.Gained < 0.5:
		c.Outcome, c.Why = NotMet, "the coat below stood still: by the conditions it had come less than half the way"
		return
	default:
		c.Why = "the model gives no time for it"
		return
	}
	limit, spread := minutes(e.Likely.Sub(from)), minutes(e.High.Sub(e.Low)/2)
	c.Limit, c.Expanded = &limit, &spread
	switch {
	case !at.Before(e.High):
		c.Outcome, c.Why = Met, "later than the reckoned time with its uncertainty"
	case at.Before(e.Low):
		c.Outcome, c.Why = NotMet, "earlier than the reckoned time with its uncertainty"
	default:
		c.Why = "the difference is inside the uncertainty of the reckoned time"
	}
}

// thick is how far a wet film may exceed the label's before it counts as too
// thick. Common practice, no source.
const thick = 1.25

// gauge is the standard uncertainty of a wet-film reading, µm: half a usual
// step of a comb. Common practice, no source.
const gauge = 12.5

func (q *inquiry) byFilm() Criterion {
	stated := float64(q.Coat.Product.Label.Stated.Film)
	b := bar{title: "wet film not much above the label's", window: putOn, unit: "um", source: ofLabel + ", a quarter more: " + ofPractice, limit: thick * stated}
	b.value, b.sigma = float64(q.Coat.Film), gauge
	if q.Coat.FilmMost > q.Coat.FilmLeast {
		b.value, b.sigma = float64(q.Coat.FilmLeast+q.Coat.FilmMost)/2, float64(q.Coat.FilmMost-q.Coat.FilmLeast)/4
	}
	switch {
	case stated == 0:
		b.silent = "the label states no film"
	case b.value == 0:
		b.silent = "the film was not measured"
	}
	return b.judge()
}

// meter is the standard uncertainty of a moisture meter, % of wood moisture.
// Common practice, no source.
const meter = 1

// byWood holds the newest reading before a first coat against what indoor wood
// should be.
func (q *inquiry) byWood() (Criterion, bool) {
	if q.Below != nil {
		return Criterion{}, false
	}
	b := bar{title: "wood dry before the first coat", window: "before the coat", unit: "%", source: ofPractice + " for indoors; " + ofWood + " gives 20 % for outdoors", limit: 12, sigma: meter}
	b.silent = "the wood's moisture was not measured"
	for _, m := range q.Moisture {
		if !m.At.After(q.Coat.Applied) {
			b.value, b.silent = m.WoodPct, ""
		}
	}
	return b.judge(), true
}
