package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"time"

	"recoat/internal/seal"
	"recoat/internal/shop"
	"recoat/internal/store"
	"recoat/internal/store/influx"
	"recoat/internal/store/sqlite"
)

type verifyCommand struct {
	journalFlags
	File    string `arg:"" optional:"" help:"A record to check: .json, .html or .csv; without one, everything that is kept." type:"path"`
	Offline bool   `help:"Check the file by itself, without a store."`
}

// errAltered is the outcome of a verification that found something.
var errAltered = errors.New("not everything is as it was sealed")

// archive is what a house keeps, opened for a command beside a recoat that may
// be running.
type archive struct {
	folder   folder
	readings store.Readings
	journal  *shop.Journal
	seals    *seal.Log
	keep     time.Duration // how long readings are kept
	close    func() error
}

// archive opens the configured store, the journal and the seals.
func (f journalFlags) archive(ctx context.Context) (a archive, err error) {
	cfg, at, err := f.folder()
	if err != nil {
		return a, err
	}
	a.folder = at
	var open []func() error
	a.close = func() error {
		var errs []error
		for _, c := range open {
			errs = append(errs, c())
		}
		return errors.Join(errs...)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, a.close())
		}
	}()
	var closeStore func() error
	if a.readings, closeStore, err = openReadings(ctx, cfg, at, f.Simulated); err != nil {
		return a, err
	}
	open = append(open, closeStore)
	a.keep = keepReadings
	if a.journal, err = shop.OpenJournal(ctx, at.journal()); err != nil {
		return a, err
	}
	open = append(open, a.journal.Close)
	if a.seals, err = seal.OpenLog(ctx, at.seals()); err != nil {
		return a, err
	}
	open = append(open, a.seals.Close)
	return a, nil
}

// openReadings opens the configured store to read from.
func openReadings(ctx context.Context, cfg config, at folder, simulated bool) (store.Readings, func() error, error) {
	if cfg.Store.Kind == inFile || simulated {
		s, err := sqlite.Open(ctx, at.readings())
		if err != nil {
			return nil, nil, err
		}
		return s, s.Close, nil
	}
	server, err := cfg.Store.server(at, slog.New(slog.DiscardHandler))
	if err != nil {
		return nil, nil, err
	}
	s, err := influx.Open(ctx, server)
	if err != nil {
		return nil, nil, err
	}
	return s, s.Close, nil
}

func (a archive) verifier(ctx context.Context) (seal.Verifier, error) {
	v := seal.Verifier{Log: a.seals, Readings: a.readings, Journal: a.journal, Since: seal.Since(time.Now(), a.keep)}
	if _, file := a.readings.(*sqlite.Store); !file {
		return v, nil // a server clears everything of an age away
	}
	coats, err := a.journal.Coats(ctx, shop.CoatFilter{Undone: true})
	if err != nil {
		return v, err
	}
	var all []kept
	for _, c := range coats {
		stays, err := a.journal.Stays(ctx, c)
		if err != nil {
			return v, err
		}
		all = append(all, kept{c.Recorded, evidence(c, stays)})
	}
	v.Kept = func(room string, from, to time.Time) bool { return keptFor(all, a.keep, room, from, to) }
	return v, nil
}

// kept is the air that is kept for the record of a coat, and since when it is.
type kept struct {
	since time.Time
	spans []sqlite.Span
}

// keptFor reports whether the whole of a stretch is kept for the record of a
// coat that was noted before the stretch was old enough to go.
func keptFor(all []kept, keep time.Duration, room string, from, to time.Time) bool {
	return slices.ContainsFunc(all, func(k kept) bool {
		return k.since.Before(from.Add(keep)) && slices.ContainsFunc(k.spans, func(s sqlite.Span) bool {
			return s.Room == room && !s.From.After(from) && !s.To.Before(to)
		})
	})
}

// verifyAll compares everything that is kept with its seals.
func (a archive) verifyAll(ctx context.Context) (seal.Finding, error) {
	v, err := a.verifier(ctx)
	if err != nil {
		return seal.Finding{}, err
	}
	return v.All(ctx)
}

// sealer seals what the hub's half keeps.
func (h *house) sealer() *seal.Sealer {
	return &seal.Sealer{Log: h.seals, Readings: h.store, Journal: h.journal, Now: h.now, Report: h.log, Keep: keepReadings}
}

// Run compares what is kept with its seals, and a file with both.
func (c *verifyCommand) Run(s *session) error {
	switch {
	case c.Offline && c.File == "":
		return usage{errors.New("--offline checks a file: name one")}
	case c.File != "":
		return c.file(s)
	}
	a, err := c.archive(s.ctx)
	if err != nil {
		return err
	}
	f, err := a.verifyAll(s.ctx)
	if err = errors.Join(err, a.close()); err != nil {
		return err
	}
	if err := showFinding(s, c.JSON, f); err != nil {
		return err
	}
	if !f.OK() {
		return errAltered
	}
	return nil
}

func showFinding(s *session, asJSON bool, f seal.Finding) error {
	if asJSON {
		return writeJSON(s.stdout, f)
	}
	for _, n := range f.Notes {
		fmt.Fprintln(s.stdout, "note: "+n)
	}
	for _, p := range f.Problems {
		fmt.Fprintln(s.stdout, "NOT AS SEALED: "+p.String())
	}
	if f.OK() {
		fmt.Fprintf(s.stdout, "As it was sealed: %d rounds of %d days, %d rows of the journal, a chain of %d seals.\n", f.Rounds, f.Days, f.Rows, f.Seals)
	}
	_, err := fmt.Fprintln(s.stdout, "What that proves, and what it does not: internal/seal/VERIFY.md.")
	return err
}
