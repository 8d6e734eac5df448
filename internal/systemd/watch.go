// Package systemd tells the service manager how recoat is: that it is ready, what
// it does, and that it is alive. It says the last only when everything that has
// to go on has gone on since it last said so; a process that merely runs proves
// nothing.
package systemd

import (
	"context"
	"fmt"
	"log/slog"
	"strings"
	"time"
)

// Vital is something that has to go on.
type Vital struct {
	Name  string
	Beats func() uint64 // rises each time it has got further; called from any goroutine
	// Every is how long it may take to get further where all is well.
	Every time.Duration
}

// Manager is the service manager; Socket is one.
type Manager interface {
	// Notify sends a state in the words of sd_notify(3).
	Notify(state string) error
	// Patience is how long the manager waits for a sign of life; 0: for ever.
	Patience() (time.Duration, error)
}

// Watch says how recoat is until its context ends.
type Watch struct {
	Manager Manager
	Ready   <-chan struct{} // closed once recoat does its work; nil: at once
	Vitals  []Vital
	Status  func(context.Context) string // one line for people
	Log     *slog.Logger
}

const (
	// looks is how often the vitals are looked at within the manager's patience.
	looks = 4
	// slack is how much longer than the slowest vital's pace the manager has to
	// wait.
	slack = 3
	// restful is how often the status is told where nobody waits for a sign.
	restful = 30 * time.Second
)

// Run tells until ctx ends, then says that recoat is about to stop.
func (w Watch) Run(ctx context.Context) error {
	select {
	case <-ctx.Done():
		return nil
	case <-w.readiness():
	}
	patience, err := w.patience()
	if err != nil {
		return err
	}
	if err := w.Manager.Notify("READY=1\n" + w.status(ctx)); err != nil {
		return fmt.Errorf("tell the service manager: %w", err)
	}
	w.watch(ctx, patience)
	if err := w.Manager.Notify("STOPPING=1"); err != nil {
		return fmt.Errorf("tell the service manager: %w", err)
	}
	return nil
}

func (w Watch) readiness() <-chan struct{} {
	if w.Ready != nil {
		return w.Ready
	}
	now := make(chan struct{})
	close(now)
	return now
}

// patience returns the manager's, and asks for more where the slowest vital
// could not keep it.
func (w Watch) patience() (time.Duration, error) {
	patience, err := w.Manager.Patience()
	if err != nil || patience == 0 {
		return patience, err
	}
	needed := patience
	for _, v := range w.Vitals {
		needed = max(needed, slack*v.Every)
	}
	if needed == patience {
		return patience, nil
	}
	return needed, w.Manager.Notify(fmt.Sprintf("WATCHDOG_USEC=%d", needed.Microseconds()))
}

func (w Watch) watch(ctx context.Context, patience time.Duration) {
	every := restful
	if patience > 0 {
		every = patience / looks
	}
	beat := time.NewTicker(every)
	defer beat.Stop()
	fed, silent := make([]uint64, len(w.Vitals)), ""
	for {
		select {
		case <-ctx.Done():
			return
		case <-beat.C:
		}
		state, still := w.status(ctx), w.still(fed)
		if still == "" && patience > 0 {
			state += "\nWATCHDOG=1"
		}
		if still != "" && still != silent {
			w.Log.Warn("no sign of life is given: this has not got further", "vitals", still)
		}
		if silent = still; silent == "" {
			for i, v := range w.Vitals {
				fed[i] = v.Beats()
			}
		}
		if err := w.Manager.Notify(state); err != nil {
			w.Log.Error("tell the service manager", "error", err)
		}
	}
}

// still names the vitals that have not got further since they last all had.
func (w Watch) still(fed []uint64) string {
	var names []string
	for i, v := range w.Vitals {
		if v.Beats() == fed[i] {
			names = append(names, v.Name)
		}
	}
	return strings.Join(names, ", ")
}

func (w Watch) status(ctx context.Context) string {
	// A line break would begin another variable.
	return "STATUS=" + strings.Join(strings.Fields(w.Status(ctx)), " ")
}
