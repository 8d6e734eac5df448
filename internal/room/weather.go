package room

import (
	"slices"
	"time"

	"recoat/drying"
	"recoat/drying/forecast"
	"recoat/sensors"
)

// How long a forecast is used before the next is made, and of how many courses
// it is.
const (
	forecastLife    = 15 * time.Minute
	forecastMembers = 200
	forecastSeed    = 1
)

// weather forecasts a room from its own history: its air once, and over that each
// surface that is asked about.
type weather struct {
	skies map[string]*sky
	air   *forecast.Forecaster // nil: to be begun anew
	taken time.Time            // end of the newest slot that it took in
	begun time.Time            // of when its first forecast was
	as    time.Time            // of when its newest is
}

// sky is the forecast over one surface. It is made from what the history holds
// up to the last quarter of an hour, and made anew where that changes: the same
// history gives the same forecast, whenever it came.
type sky struct {
	forecaster *forecast.Forecaster // nil: to be begun anew
	taken      time.Time            // end of the newest slot that it took in
	as         time.Time            // of when the forecast is
	stale      bool                 // the history before that has changed
	made       uint64               // counts the forecasts made
	ensemble   *drying.Ensemble     // for the drying model; nil: the history is too short
	ahead      []MarginPoint        // the dew margins of the same, step by step
	judged     forecast.Judgement   // which of it rests on judgement
}

// coldestSurface is asked about by the room as a whole. No probe has this name.
const coldestSurface = "coldest surface"

// longestLearnt is after how long a forecaster is begun anew from the history
// there is, so that it does not grow for as long as the hub runs.
const longestLearnt = 4 * keep

// over returns the forecast over a probe's surface, the air's where probe is
// empty, or the coldest surface.
func (w *weather) over(probe string, h *history, now time.Time) *sky {
	if w.skies == nil {
		w.skies = map[string]*sky{}
	}
	s := w.skies[probe]
	if s == nil {
		s = &sky{}
		w.skies[probe] = s
	}
	if as := now.Truncate(forecastLife); s.stale || !as.Equal(s.as) {
		w.takeIn(h, as)
		s.takeIn(w.air, probe, h, as)
		s.issue(as)
	}
	return s
}

// changed says that the slot at t has changed.
func (w *weather) changed(t time.Time) {
	for _, s := range w.skies {
		s.stale = s.stale || t.Before(s.as)
	}
	if t.Before(w.taken) {
		w.beginAnew()
	}
}

// forget drops what rests on a history that is recalled anew.
func (w *weather) forget() { *w = weather{} }

// beginAnew drops what was learnt, of the air and so of all surfaces.
func (w *weather) beginAnew() {
	w.air, w.taken = nil, time.Time{}
	for _, s := range w.skies {
		s.forecaster, s.taken = nil, time.Time{}
	}
}

// takeIn teaches the air what the history holds before an instant.
func (w *weather) takeIn(h *history, as time.Time) {
	if as.Before(w.as) || as.Sub(w.begun) > longestLearnt {
		w.beginAnew()
	}
	if w.as = as; w.air == nil {
		w.air, w.begun = forecast.NewAir(), as
	}
	w.taken = teach(w.air, "", h, w.taken, as)
}

// takeIn teaches the surface the same. That of the air is the air's own.
func (s *sky) takeIn(air *forecast.Forecaster, probe string, h *history, as time.Time) {
	switch {
	case probe == "":
		s.forecaster = air
		return
	case s.forecaster == nil:
		s.forecaster = air.Over()
	}
	s.taken = teach(s.forecaster, probe, h, s.taken, as)
}

// teach gives a forecaster the slots from one instant up to another, and returns
// the end of the last. A probe that says what no surface can be is taken for silent,
// so that every surface has samples of the same air.
func teach(f *forecast.Forecaster, probe string, h *history, from, as time.Time) time.Time {
	slots := h.since(from)
	for i := range slots {
		if !slots[i].start.Before(as) {
			break
		}
		c, ok := slots[i].of(probe)
		if ok && c.Check() != nil {
			c, ok = slots[i].of("")
		}
		if ok {
			f.Add(drying.Sample{At: slots[i].start, Conditions: c})
		}
		from = slots[i].start.Add(slotWidth)
	}
	return from
}

// issue makes the forecast of an instant.
func (s *sky) issue(as time.Time) {
	s.as, s.stale, s.ensemble, s.ahead = as, false, nil, nil
	s.made++
	courses, err := s.forecaster.Issue(as, forecast.Options{Members: forecastMembers, Seed: forecastSeed})
	if err != nil {
		return // too little history yet
	}
	ensemble, err := drying.NewEnsemble(courses.At, forecast.Step, courses.Courses())
	if err != nil {
		return
	}
	s.ensemble, s.ahead, s.judged = ensemble, marginsOf(courses), courses.Judgement()
}

// of returns the slot's conditions at what weather.over calls probe.
func (s *slot) of(probe string) (drying.Conditions, bool) {
	if probe == coldestSurface {
		return s.coldest()
	}
	return s.on(probe)
}

// margins returns the dew margins to come, eight in ten between Low and High,
// up to an instant; none where there is no forecast.
func (s *sky) margins(now, until time.Time) []MarginPoint {
	var points []MarginPoint
	for _, p := range s.ahead {
		if p.At.After(now) && !p.At.After(until) {
			points = append(points, p)
		}
	}
	return points
}

func marginsOf(courses *forecast.Ensemble) []MarginPoint {
	points := make([]MarginPoint, courses.Steps())
	values := make([]float64, courses.Members())
	for step := range points {
		for m := range values {
			values[m] = float64(courses.Value(forecast.Surface, m, step) - courses.Value(forecast.DewPoint, m, step))
		}
		slices.Sort(values)
		points[step] = MarginPoint{
			At:     courses.At.Add(time.Duration(step)*forecast.Step + forecast.Step/2),
			Margin: quantileOf(values, 0.5), Low: quantileOf(values, 0.1), High: quantileOf(values, 0.9),
			Projected: true, Known: true,
		}
	}
	return points
}

// quantileOf is that of sorted values, to the nearest of them.
func quantileOf(sorted []float64, p float64) sensors.Kelvins {
	return sensors.Kelvins(sorted[int(p*float64(len(sorted)-1)+0.5)])
}
