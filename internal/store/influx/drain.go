package influx

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"net/http"
	"time"

	httperr "github.com/influxdata/influxdb-client-go/v2/api/http"
	"github.com/influxdata/influxdb-client-go/v2/api/write"
)

const (
	batchRounds  = 500
	firstRetry   = time.Second
	longestRetry = time.Minute
	settleEvery  = 5 * time.Minute // how far rollups may fall behind unasked
)

// Run brings what is queued to the server until ctx ends, and returns nil.
// While the server is away or refuses, rounds wait in the queue.
func (s *Store) Run(ctx context.Context) error {
	settle := time.NewTicker(settleEvery)
	defer settle.Stop()
	for wait := firstRetry; ; {
		err := s.drain(ctx)
		if err == nil {
			wait = firstRetry
			select {
			case <-s.filled:
				continue
			case <-settle.C:
				err = s.write(ctx, func() error { return s.settleAll(ctx) })
			case <-ctx.Done():
			}
		}
		switch {
		case ctx.Err() != nil:
			return nil
		case err == nil:
			continue
		}
		after := backOff(err, wait)
		s.cfg.Log.Error("readings wait for InfluxDB, will try again", "after", after, "error", advise(err))
		if pause(ctx, after) != nil {
			return nil
		}
		wait = min(2*wait, longestRetry)
	}
}

// backOff honours what the server asks for; else it waits up to half as long
// again, so that many hubs do not come back at once.
func backOff(err error, wait time.Duration) time.Duration {
	var e *httperr.Error
	if errors.As(err, &e) && e.RetryAfter > 0 {
		return min(time.Duration(e.RetryAfter)*time.Second, 10*longestRetry)
	}
	return wait + rand.N(wait/2)
}

// advise says what a person has to do where trying again is of no use.
func advise(err error) error {
	var e *httperr.Error
	if !errors.As(err, &e) {
		return err
	}
	switch e.StatusCode {
	case http.StatusUnauthorized, http.StatusForbidden:
		return fmt.Errorf("%w: the server does not admit recoat: check [store] token_file", err)
	case http.StatusNotFound:
		return fmt.Errorf("%w: the server has no such bucket: run recoat store prepare", err)
	}
	return err
}

// drain writes all that waits.
func (s *Store) drain(ctx context.Context) error {
	for {
		if err := ctx.Err(); err != nil {
			return err
		}
		entries, err := s.queue.first(ctx, 1)
		if err != nil || len(entries) == 0 {
			return explain(ctx, err)
		}
		if err := s.write(ctx, func() error { return s.drainBatch(ctx) }); err != nil {
			return explain(ctx, err)
		}
	}
}

func (s *Store) drainBatch(ctx context.Context) error {
	entries, err := s.queue.first(ctx, batchRounds)
	if err != nil || len(entries) == 0 {
		return err
	}
	p, err := s.resolve(ctx, entries)
	if err == nil {
		err = s.queue.mark(ctx, p.hours)
	}
	refused := map[int64]string{}
	if err == nil {
		err = s.send(ctx, p.points, refused)
	}
	if err != nil || len(refused) > 0 {
		s.held.forget() // what it says may not be so
	}
	if err != nil {
		return err
	}
	for id, reason := range refused {
		s.cfg.Log.Error("InfluxDB will not take a round: kept aside in the queue's file", "entry", id, "reason", reason)
	}
	return s.queue.settle(ctx, entries, refused)
}

// send writes points. Where the server refuses a request for what is in it,
// halves are tried, down to the points that are to blame; the others are
// written. A point written twice is one.
func (s *Store) send(ctx context.Context, steps []step, refused map[int64]string) error {
	if len(steps) == 0 {
		return nil
	}
	points := make([]*write.Point, len(steps))
	for i, x := range steps {
		points[i] = x.point
	}
	err := s.server.write(ctx, s.cfg.Readings, points...)
	switch {
	case err == nil || !poisoned(err):
		return err
	case len(steps) == 1:
		refused[steps[0].entry] = err.Error()
		return nil
	}
	half := len(steps) / 2
	if err := s.send(ctx, steps[:half], refused); err != nil {
		return err
	}
	return s.send(ctx, steps[half:], refused)
}

// poisoned reports whether a request was refused for its content, so that it
// would be for ever.
func poisoned(err error) bool {
	var e *httperr.Error
	if !errors.As(err, &e) {
		return false
	}
	switch e.StatusCode {
	case http.StatusBadRequest, http.StatusUnprocessableEntity, http.StatusRequestEntityTooLarge:
		return true
	}
	return false
}
