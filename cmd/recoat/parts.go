package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
)

// parts runs the long-lived parts of a command together: when one of them
// ends, or ctx does, all are stopped. Closers run last, in reverse order.
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
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	errs := make([]error, len(p.running))
	var wg sync.WaitGroup
	for i, part := range p.running {
		wg.Go(func() {
			defer stop()
			if err := part.run(ctx); err != nil {
				errs[i] = fmt.Errorf("%s: %w", part.name, err)
			}
		})
	}
	wg.Wait()
	return errors.Join(errs...)
}

// close runs the closers; safe to call once, whatever was added.
func (p *parts) close() error {
	var errs []error
	for i := len(p.closers) - 1; i >= 0; i-- {
		errs = append(errs, p.closers[i]())
	}
	return errors.Join(errs...)
}

// logTo returns a logger for people who read a terminal.
func logTo(s *session) *slog.Logger {
	return slog.New(slog.NewTextHandler(s.stderr, &slog.HandlerOptions{Level: slog.LevelInfo}))
}
