package hub

import (
	"context"
	"errors"
	"log/slog"
	"sync"
	"time"

	"recoat/internal/store"
	"recoat/internal/telemetry"
	"recoat/sensors"
)

// writer stores deliveries in batches and acknowledges each after its commit. A
// batch is what comes without a pause. A small one waits besides until the commit
// before it is a window ago, so that scattered rounds share a commit; what comes
// after a calm does not wait, nor what is so much that somebody may wait for it.
type writer struct {
	readings store.Readings
	window   time.Duration
	log      *slog.Logger
	in       chan telemetry.Delivery
	last     time.Time // when a batch was gathered last; for run alone

	mu    sync.Mutex
	since time.Time // of when what cannot be stored came; zero: all can
	why   string
}

// trouble is since when the store fails, and why; zero: it does not.
func (w *writer) trouble() (since time.Time, why string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.since, w.why
}

// failing reports whether the last try to store failed.
func (w *writer) failing() bool {
	since, _ := w.trouble()
	return !since.IsZero()
}

// fails notes how a try to store went.
func (w *writer) fails(err error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if err == nil {
		w.since, w.why = time.Time{}, ""
		return
	}
	if w.since.IsZero() {
		w.since = time.Now()
	}
	w.why = err.Error()
}

// The bounds of a batch and of the time between tries when the store fails.
const (
	batchRounds  = 500
	enough       = 16 // rounds that do not wait for others
	pause        = 10 * time.Millisecond
	firstRetry   = time.Second
	longestRetry = 30 * time.Second
	lastWrite    = 5 * time.Second // for what is in hand when the hub stops
)

func newWriter(readings store.Readings, window time.Duration, log *slog.Logger) *writer {
	return &writer{readings: readings, window: window, log: log, in: make(chan telemetry.Delivery, queue)}
}

// offer takes a delivery unless too many wait already.
func (w *writer) offer(d telemetry.Delivery) bool {
	select {
	case w.in <- d:
		return true
	default:
		return false
	}
}

func (w *writer) run(ctx context.Context) {
	for {
		select {
		case <-ctx.Done():
			w.finish(ctx)
			return
		case d := <-w.in:
			w.persist(ctx, w.gather(ctx, d))
		}
	}
}

// gather waits for more deliveries until there is a pause behind enough of them,
// the window closes or the batch is full.
func (w *writer) gather(ctx context.Context, first telemetry.Delivery) []telemetry.Delivery {
	batch, rounds := []telemetry.Delivery{first}, len(first.Rounds)
	calm := w.last.IsZero() || time.Since(w.last) >= w.window
	left := w.window
	if !calm {
		left -= time.Since(w.last)
	}
	closed := time.NewTimer(left)
	defer closed.Stop()
	defer func() { w.last = time.Now() }()
	for rounds < batchRounds {
		var paused <-chan time.Time
		if calm || rounds >= enough {
			paused = time.After(pause)
		}
		select {
		case d := <-w.in:
			batch, rounds = append(batch, d), rounds+len(d.Rounds)
		case <-paused:
			return batch
		case <-closed.C:
			return batch
		case <-ctx.Done():
			return batch
		}
	}
	return batch
}

// persist tries until the batch is stored or ctx ends. Meanwhile the queue
// fills, and what finds no place in it is sent again by its node.
func (w *writer) persist(ctx context.Context, batch []telemetry.Delivery) {
	for wait := firstRetry; ; wait = min(2*wait, longestRetry) {
		var err error
		batch, err = w.store(ctx, batch)
		if ctx.Err() != nil && err != nil {
			w.flush(ctx, batch)
			return
		}
		w.fails(err)
		if err == nil {
			return
		}
		w.log.Error("store readings, will try again", "rounds", count(batch), "after", wait, "error", err)
		select {
		case <-time.After(wait):
		case <-ctx.Done():
		}
	}
}

// finish stores what is in hand when the hub stops.
func (w *writer) finish(ctx context.Context) {
	var batch []telemetry.Delivery
	for len(w.in) > 0 {
		batch = append(batch, <-w.in)
	}
	w.flush(ctx, batch)
}

func (w *writer) flush(ctx context.Context, batch []telemetry.Delivery) {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), lastWrite)
	defer cancel()
	if left, err := w.store(ctx, batch); err != nil {
		w.log.Error("store the last readings, their nodes will send them again", "rounds", count(left), "error", err)
	}
}

// store commits a batch room by room, acknowledges what was committed, and
// returns the rest with the reason.
func (w *writer) store(ctx context.Context, batch []telemetry.Delivery) (left []telemetry.Delivery, err error) {
	rooms := map[string][]telemetry.Delivery{}
	for _, d := range batch {
		rooms[d.Room] = append(rooms[d.Room], d)
	}
	var all sync.WaitGroup
	var mu sync.Mutex
	var errs []error
	for name, deliveries := range rooms {
		all.Go(func() { // together, so that the store can commit them together
			stay, err := w.storeRoom(ctx, name, deliveries)
			mu.Lock()
			defer mu.Unlock()
			if err != nil {
				errs, left = append(errs, err), append(left, stay...)
			}
		})
	}
	all.Wait()
	return left, errors.Join(errs...)
}

// storeRoom commits what came of one room, and returns what could not be with
// the reason. What can never be is passed over.
func (w *writer) storeRoom(ctx context.Context, name string, deliveries []telemetry.Delivery) (left []telemetry.Delivery, err error) {
	err = w.append(ctx, name, deliveries)
	if errors.Is(err, store.ErrInvalid) && len(deliveries) > 1 {
		deliveries, err = w.oneByOne(ctx, name, deliveries)
	}
	if errors.Is(err, store.ErrInvalid) {
		w.refuse(name, deliveries[0], err)
		return nil, nil
	}
	return deliveries, err
}

// refuse passes over what can never be kept, and tells its node so.
func (w *writer) refuse(name string, d telemetry.Delivery, err error) {
	w.log.Warn("rounds that cannot be kept, passed over", "room", name, "node", d.Node, "error", err)
	d.Refused(err.Error())
}

// oneByOne finds the delivery that spoils a batch: the others are stored, it is
// passed over, and never acknowledged.
func (w *writer) oneByOne(ctx context.Context, name string, deliveries []telemetry.Delivery) (left []telemetry.Delivery, err error) {
	for i, d := range deliveries {
		err := w.append(ctx, name, deliveries[i:i+1])
		switch {
		case errors.Is(err, store.ErrInvalid):
			w.refuse(name, d, err)
		case err != nil:
			return deliveries[i:], err
		}
	}
	return nil, nil
}

// append makes deliveries of one room durable and acknowledges them.
func (w *writer) append(ctx context.Context, name string, deliveries []telemetry.Delivery) error {
	var rounds []sensors.Round
	for _, d := range deliveries {
		rounds = append(rounds, d.Rounds...)
	}
	if err := w.readings.Append(ctx, name, rounds); err != nil {
		return err
	}
	for _, d := range deliveries {
		d.Stored()
	}
	return nil
}

func count(batch []telemetry.Delivery) int {
	n := 0
	for _, d := range batch {
		n += len(d.Rounds)
	}
	return n
}
