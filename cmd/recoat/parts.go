package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
)

// parts runs the long-lived parts of a command together: when one of them
// ends, or ctx does, all are stopped, the last added first. Closers run after
// that, in reverse order too.
type parts struct {
	running []part
	closers []func() error
}

type part struct {
	name string
	run  func(context.Context) error
}

func (p *parts) add(name string, run func(context.Context) error) {
	p.running = append(p.running, part{name, run})
}

func (p *parts) onClose(f func() error) { p.closers = append(p.closers, f) }

// run runs every part until the first of them ends or ctx does.
func (p *parts) run(ctx context.Context) error {
	over := make(chan struct{}, len(p.running))
	stops := make([]func() error, len(p.running))
	for i, part := range p.running {
		stops[i] = part.start(ctx, over)
	}
	select {
	case <-ctx.Done():
	case <-over:
	}
	var errs []error
	for _, stop := range slices.Backward(stops) {
		errs = append(errs, stop())
	}
	return errors.Join(errs...)
}

// start runs the part until the function it returns is called, which waits for
// its end. The end of ctx does not reach the part but through that.
func (p part) start(ctx context.Context, over chan<- struct{}) (stop func() error) {
	ctx, cancel := context.WithCancel(context.WithoutCancel(ctx))
	ended := make(chan error, 1)
	go func() {
		ended <- p.run(ctx)
		over <- struct{}{}
	}()
	return func() error {
		cancel()
		if err := <-ended; err != nil && !errors.Is(err, context.Canceled) {
			return fmt.Errorf("%s: %w", p.name, err)
		}
		return nil
	}
}

// close runs the closers; safe to call once, whatever was added.
func (p *parts) close() error {
	var errs []error
	for i := len(p.closers) - 1; i >= 0; i-- {
		errs = append(errs, p.closers[i]())
	}
	return errors.Join(errs...)
}

// closeInto closes, for a deferred call, and joins what fails to the error that
// is about to be returned.
func (p *parts) closeInto(err *error) { *err = errors.Join(*err, p.close()) }

// logTo returns a logger for people who read a terminal.
func logTo(s *session) *slog.Logger {
	return slog.New(slog.NewTextHandler(s.stderr, &slog.HandlerOptions{Level: &s.level}))
}
