package hub

import (
	"context"
	"sync"
)

// watchers tells any number of listeners that something changed. A listener
// that is slow finds one tick waiting, never more.
type watchers struct {
	mu  sync.Mutex
	all map[chan struct{}]struct{}
}

func (w *watchers) watch(ctx context.Context) <-chan struct{} {
	c := make(chan struct{}, 1)
	w.mu.Lock()
	if w.all == nil {
		w.all = map[chan struct{}]struct{}{}
	}
	w.all[c] = struct{}{}
	w.mu.Unlock()
	context.AfterFunc(ctx, func() {
		w.mu.Lock()
		delete(w.all, c)
		w.mu.Unlock()
	})
	return c
}

func (w *watchers) tell() {
	w.mu.Lock()
	defer w.mu.Unlock()
	for c := range w.all {
		select {
		case c <- struct{}{}:
		default:
		}
	}
}
