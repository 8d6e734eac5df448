package main

import (
	"fmt"

	"recoat/internal/shop"
)

type journalHistoryCommand struct {
	journalFlags
	ID string `arg:"" name:"id" help:"What was changed, such as c-0001; of a schedule, the part."`
}

type journalUndoCommand struct {
	changeFlags
	Change int64 `arg:"" help:"The number of an edit, as recoat journal history tells it."`
}

type journalArchiveCommand struct {
	changeFlags
	ID string `arg:"" name:"id" help:"A piece, a product, a mix or a can, such as p-0001."`
}

type journalUnarchiveCommand struct {
	changeFlags
	ID string `arg:"" name:"id" help:"A piece, a product, a mix or a can, such as p-0001."`
}

// Run lists what was done to one thing.
func (c *journalHistoryCommand) Run(s *session) error {
	return c.with(s, func(_ config, j *shop.Journal) error {
		all, err := j.ChangesOf(s.ctx, c.ID)
		if err != nil {
			return err
		}
		if c.JSON {
			return writeJSON(s.stdout, all)
		}
		if len(all) == 0 {
			fmt.Fprintln(s.stdout, "Nothing was done to anything of that id.")
		}
		for _, change := range all {
			who := change.Who
			if who == "" {
				who = "the finisher"
			}
			fmt.Fprintf(s.stdout, "%d  %s  %s, by %s\n   before %s\n   after  %s\n", change.Seq, onClock(change.At), change.What, who, change.Before, change.After)
		}
		return nil
	})
}

// Run takes an edit back.
func (c *journalUndoCommand) Run(s *session) error {
	return c.done(s, func(j *shop.Journal) error { return j.UndoEdit(c.tapped(s), c.Change, s.now()) },
		fmt.Sprintf("change %d", c.Change), "taken back")
}

// Run puts something into the archive.
func (c *journalArchiveCommand) Run(s *session) error {
	return c.done(s, func(j *shop.Journal) error { return j.Archive(c.tapped(s), c.ID, s.now()) }, c.ID, "in the archive")
}

// Run takes something out of the archive.
func (c *journalUnarchiveCommand) Run(s *session) error {
	return c.done(s, func(j *shop.Journal) error { return j.Unarchive(c.tapped(s), c.ID, s.now()) }, c.ID, "out of the archive")
}

// doneReport says what was done to what.
type doneReport struct {
	ID   string `json:"id"`
	Done string `json:"done"`
}

// done makes a change of which there is nothing to show but that it was made.
func (f changeFlags) done(s *session, change func(*shop.Journal) error, id, done string) error {
	return f.with(s, func(_ config, j *shop.Journal) error {
		if err := change(j); err != nil {
			return err
		}
		if f.JSON {
			return writeJSON(s.stdout, doneReport{id, done})
		}
		fmt.Fprintf(s.stdout, "%s  %s\n", id, done)
		return nil
	})
}
