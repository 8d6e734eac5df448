package audit

import (
	"slices"
	"strings"
	"time"

	"recoat/drying"
	"recoat/internal/shop"
)

// How long putting a coat on is taken to last: only its instant is recorded.
// Common practice, no source.
const application = 30 * time.Minute

// before is how far back a record looks: a piece takes a day to come to the
// temperature of a room. Common practice, no source.
const before = 24 * time.Hour

// The names of windows that are not those of stages.
const (
	dayBefore = "the day before"
	putOn     = "application"
	openFilm  = "open film"
	firstDay  = "first 24 hours"
	firstTwo  = "24 to 48 hours"
	wholeCure = "whole cure"
)

// inquiry is a record in the making.
type inquiry struct {
	*Evidence
	coat      drying.Coat
	estimates []drying.Estimate
	below     []drying.Estimate // of the coat under it, as it stood when this one went on
	names     []string
	ended     []bool
	courses   []drying.Course
	sure      drying.Uncertainty
}

// Build makes the record of one coat.
func Build(e *Evidence) Record {
	q := &inquiry{Evidence: e, sure: e.uncertainty()}
	q.coat = drying.Coat{Product: e.Coat.Product.Label, Applied: e.Coat.Applied, Film: e.Coat.Film}
	q.estimates = drying.Follow(q.coat, q.since(e.Coat.Applied), e.Made, nil)
	if e.Below != nil {
		coat := drying.Coat{Product: e.Below.Product.Label, Applied: e.Below.Applied, Film: e.Below.Film}
		q.below = drying.Follow(coat, q.since(e.Below.Applied), e.Coat.Applied, nil)
	}
	q.watch()
	return Record{
		Coat: q.coatFacts(), Label: q.labelFacts(), Preparation: q.preparation(), Moisture: q.wood(), Sensors: q.sensors(),
		Windows: q.windows(), Stages: q.stages(), Touches: q.touches(), Criteria: q.criteria(), Happened: q.happened(),
		Defects: q.defects(), Alerts: q.alerts(), Outside: q.outdoors(), Edits: q.edits(),
	}
}

// since returns the samples that can matter from an instant on.
func (q *inquiry) since(from time.Time) []drying.Sample {
	i, _ := slices.BinarySearchFunc(q.Samples, from.Add(-drying.MaxGap), func(s drying.Sample, at time.Time) int { return s.At.Compare(at) })
	return q.Samples[i:]
}

// watch lays out the windows and sums up each.
func (q *inquiry) watch() {
	on := q.Coat.Applied
	var spans []drying.Interval
	add := func(name string, from, to time.Time, ended bool) {
		if to.After(q.Made) {
			to, ended = q.Made, false
		}
		if !to.After(from) {
			to = from
		}
		q.names, q.ended, spans = append(q.names, name), append(q.ended, ended), append(spans, drying.Interval{From: from, To: to})
	}
	add(dayBefore, on.Add(-before), on, true)
	add(putOn, on, on.Add(application), true)
	add(firstDay, on, on.Add(24*time.Hour), true)
	add(firstTwo, on.Add(24*time.Hour), on.Add(48*time.Hour), true)
	for _, e := range q.estimates {
		end := e.Likely
		if !e.Reached {
			end = q.Made
		}
		add(toStage(e.Stage), on, end, e.Reached)
	}
	q.courses = drying.Courses(q.Samples, q.Coat.Product.Label.Limits, q.sure, spans)
}

// course returns the window of that name.
func (q *inquiry) course(name string) (drying.Course, bool) {
	i := slices.Index(q.names, name)
	if i < 0 {
		return drying.Course{}, false
	}
	return q.courses[i], q.ended[i]
}

// stage returns the estimate of a stage of a coat.
func stage(all []drying.Estimate, s drying.Stage) (drying.Estimate, bool) {
	for _, e := range all {
		if e.Stage == s {
			return e, true
		}
	}
	return drying.Estimate{}, false
}

// toStage is the window that ends with a stage.
func toStage(s drying.Stage) string {
	switch s {
	case drying.SetToTouch:
		return openFilm
	case drying.Cured:
		return wholeCure
	case drying.Handle:
		return "until handled"
	}
	return "until " + strings.ReplaceAll(s.String(), "-", " ")
}

// ToRecoat is the name of the window that ends when a coat is dry to recoat.
var ToRecoat = toStage(drying.DryToRecoat)

// known is a pointer to a figure that is not zero, nil for none.
func known(v float64) *Figure {
	if v == 0 {
		return nil
	}
	f := Figure(v)
	return &f
}

// instant is a pointer to a time in UTC, to the second; nil for none.
func instant(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	t = t.UTC().Round(time.Second)
	return &t
}

func utc(t time.Time) time.Time { return t.UTC().Round(time.Second) }

func name(c *shop.Coat) string {
	if c == nil {
		return ""
	}
	return c.Product.Label.Name + " (" + c.ID + ")"
}
