package main

import (
	"context"
	"errors"
	"time"

	"recoat/internal/shop"
)

// journalFlags are those of every command that works on the journal. A recoat
// that runs may have it open at the same time.
type journalFlags struct {
	Config    string `help:"Configuration file; it names the data folder." type:"path" placeholder:"FILE"`
	Simulated bool   `help:"Use the journal of the simulated room."`
	JSON      bool   `name:"json" help:"Write JSON."`
}

func (f journalFlags) folder() (config, folder, error) {
	cfg, err := loadConfig(f.Config)
	if f.Simulated {
		return cfg, simulatedIn(cfg.Data.Folder), err
	}
	return cfg, folder(cfg.Data.Folder), err
}

// with opens the journal, runs do and closes it again.
func (f journalFlags) with(s *session, do func(config, *shop.Journal) error) error {
	cfg, at, err := f.folder()
	if err != nil {
		return err
	}
	j, err := shop.OpenJournal(s.ctx, at.journal())
	if err != nil {
		return err
	}
	return asked(errors.Join(do(cfg, j), j.Close()))
}

// asked marks what a person gave and cannot be taken as wrong usage.
func asked(err error) error {
	var input *shop.InputError
	if errors.As(err, &input) {
		return usage{err}
	}
	return err
}

// changeFlags are those of every command that changes the journal.
type changeFlags struct {
	journalFlags
	Who  string   `help:"Who did it, where that is not the finisher." placeholder:"NAME"`
	Tap  string   `help:"An id for this change: with the same id again it is made only once." placeholder:"ID"`
	Made timeFlag `help:"When it was told, where that was before now, as by a phone that was offline." placeholder:"TIME"`
}

// with is that of journalFlags, with the configured room in the journal.
func (f changeFlags) with(s *session, do func(config, *shop.Journal) error) error {
	return f.journalFlags.with(s, func(cfg config, j *shop.Journal) error {
		if err := ensureRooms(s.ctx, cfg, j, s.now()); err != nil {
			return err
		}
		return do(cfg, j)
	})
}

// tapped is the context of the one change that a command makes.
func (f changeFlags) tapped(s *session) context.Context {
	return shop.WithTap(s.ctx, shop.Tap{ID: f.Tap, Made: time.Time(f.Made), Who: f.Who})
}

// or is when something was done: then unless it is said.
func (f timeFlag) or(then time.Time) time.Time {
	if t := time.Time(f); !t.IsZero() {
		return t
	}
	return then
}

// onClock shows an instant on the clocks here, as it can be given again.
func onClock(t time.Time) string { return t.Local().Format("2006-01-02 15:04") }

// each maps what was found for JSON: none is an empty list.
func each[T, U any](all []T, show func(T) U) []U {
	shown := make([]U, len(all))
	for i, one := range all {
		shown[i] = show(one)
	}
	return shown
}
