package hub

import (
	"context"
	"errors"
	"fmt"
)

var (
	errStopped = errors.New("the hub has stopped")
	errSilent  = errors.New("the hub does not answer")
)

// Alive fails where the hub does not answer before ctx ends, or says what is
// wrong with it.
func (h *Hub) Alive(ctx context.Context) error {
	answer := make(chan error, 1)
	select {
	case h.pulse <- answer:
	case <-h.stopped:
		return errStopped
	case <-ctx.Done():
		return errSilent
	}
	select {
	case err := <-answer:
		return err
	case <-ctx.Done():
		return errSilent
	}
}

// pulseNow says whether all that the hub does goes on: it answers, and the store
// takes readings.
func (h *Hub) pulseNow() error {
	if since, why := h.writer.trouble(); !since.IsZero() {
		return fmt.Errorf("readings are not stored since %s: %s", since.In(h.opt.Location).Format("15:04"), why)
	}
	return nil
}
