package backend

import (
	"context"
	"errors"
	"fmt"
	"time"

	"recoat/dashboards"
	"recoat/internal/shop"
	"recoat/internal/store"
	"recoat/sensors"
	"recoat/sensors/calibration"
)

// Checks reads a sensor's raw readings while it is checked, and keeps what
// follows.
type Checks struct {
	Readings store.Readings // raw
	Journal  *shop.Journal
}

// Sensors lists every channel that can be checked, with its newest check.
func (c Checks) Sensors(ctx context.Context) ([]dashboards.Sensor, error) {
	extents, err := c.Readings.Extents(ctx)
	if err != nil {
		return nil, err
	}
	checks, err := c.Journal.Calibrations(ctx)
	if err != nil {
		return nil, err
	}
	var all []dashboards.Sensor
	for _, e := range extents {
		if !calibration.Calibratable(e.Channel.Quantity) {
			continue
		}
		s := dashboards.Sensor{Room: e.Room, Node: e.Node, Channel: e.Channel, Last: e.Last}
		for i := range checks {
			if k := &checks[i]; k.Room == e.Room && k.Node == e.Node && k.Channel == e.Channel && k.Undone.IsZero() {
				s.Check = k // they come in the order in which they count
			}
		}
		all = append(all, s)
	}
	return all, nil
}

// Look says how far each point of a check has come, and what follows once all
// have come to rest.
func (c Checks) Look(ctx context.Context, r dashboards.Check, now time.Time) (dashboards.CheckState, error) {
	var s dashboards.CheckState
	var known []calibration.Known
	for _, p := range r.Points {
		found, point, err := c.point(ctx, r, p, now)
		if err != nil {
			return s, err
		}
		if s.Points = append(s.Points, found); found.Steady {
			known = append(known, point)
		}
	}
	if len(known) < len(r.Points) || len(known) == 0 {
		return s, nil
	}
	fit := calibration.OnePoint(r.Channel.Quantity, known[0])
	if len(known) == 2 {
		var err error
		if fit, err = calibration.TwoPoints(known[0], known[1]); err != nil {
			s.Why = err.Error()
			return s, nil
		}
	}
	s.Fit = &fit
	return s, nil
}

func (c Checks) point(ctx context.Context, r dashboards.Check, p dashboards.CheckPoint, now time.Time) (dashboards.PointState, calibration.Known, error) {
	to := now
	if !p.To.IsZero() && p.To.Before(now) {
		to = p.To
	}
	points, err := c.raw(ctx, r, p.From, to)
	if err != nil {
		return dashboards.PointState{}, calibration.Known{}, err
	}
	progress := calibration.Soak{Quantity: r.Channel.Quantity, Began: p.From}.At(points, to)
	state := dashboards.PointState{CheckPoint: p, Progress: progress}
	known := calibration.AtIce(progress.Mean, progress.Sigma)
	if r.Channel.Quantity == sensors.AirHumidity {
		salt, err := calibration.FindSalt(p.Salt)
		if err != nil {
			return state, known, &shop.InputError{Field: "the salt", Problem: "is not known: " + err.Error()}
		}
		if progress.Points == 0 {
			return state, known, nil
		}
		if known, err = calibration.AtSalt(salt, progress.Warmth, progress.Mean, progress.Sigma); err != nil {
			state.Steady, state.Why = false, err.Error()
		}
	}
	state.Truth = known.Truth
	return state, known, nil
}

// longestSoak bounds how much is read of one point.
const longestSoak = 3 * 24 * time.Hour

// raw reads the good raw values of the channel, each with the air temperature
// beside it.
func (c Checks) raw(ctx context.Context, r dashboards.Check, from, to time.Time) ([]calibration.Point, error) {
	if from.IsZero() || to.Sub(from) > longestSoak {
		return nil, &shop.InputError{Field: "the time at which the sensor was put in", Problem: "is missing, or longer ago than three days: begin anew"}
	}
	warm := sensors.Channel{Quantity: sensors.AirTemperature, Probe: r.Channel.Probe}
	var all []calibration.Point
	warmth, felt := sensors.Celsius(0), false
	err := c.Readings.Rounds(ctx, store.Query{Room: r.Room, Node: r.Node, From: from, To: to.Add(time.Millisecond)}, func(round sensors.Round) error {
		if v, ok := round.Value(warm); ok {
			warmth, felt = sensors.Celsius(v), true
		}
		v, ok := round.Value(r.Channel)
		if ok && (felt || r.Channel.Quantity != sensors.AirHumidity) {
			all = append(all, calibration.Point{At: round.Time, Value: v, Warmth: warmth})
		}
		return nil
	})
	return all, err
}

// Keep records the check, once its points have come to rest.
func (c Checks) Keep(ctx context.Context, r dashboards.Check, now time.Time) (shop.Calibration, error) {
	s, err := c.Look(ctx, r, now)
	switch {
	case err != nil:
		return shop.Calibration{}, err
	case s.Fit == nil:
		why := s.Why
		for _, p := range s.Points {
			if !p.Steady && why == "" {
				why = p.Why
			}
		}
		return shop.Calibration{}, &shop.InputError{Field: "the check", Problem: "cannot be kept yet: " + why}
	}
	method, note := calibration.IcePoint, fmt.Sprintf("read %.2f °C in ice", s.Points[0].Mean)
	if r.Channel.Quantity == sensors.AirHumidity {
		method, note = calibration.SaltOne, ""
		if len(s.Points) == 2 {
			method = calibration.SaltTwo
		}
		for _, p := range s.Points {
			note += fmt.Sprintf("%s at %.1f °C: read %.2f %%, is %.2f %%. ", p.Salt, float64(p.Warmth), p.Mean, p.Truth)
		}
	}
	if r.Due.IsZero() {
		return shop.Calibration{}, errors.New("a check without a date for the next one")
	}
	return c.Journal.AddCalibration(ctx, shop.Calibration{Room: r.Room, Calibration: calibration.Calibration{
		Node: r.Node, Channel: r.Channel, From: now, Gain: s.Fit.Gain, Offset: s.Fit.Offset, Sigma: s.Fit.Sigma, Method: method, Who: r.Who, Due: r.Due, Note: note,
	}}, now)
}
