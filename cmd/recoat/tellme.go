package main

import (
	"errors"
	"fmt"
	"os"
	"text/tabwriter"
	"time"

	"github.com/google/uuid"

	"recoat/drying"
	"recoat/internal/alert"
	"recoat/internal/shop"
)

// tellCommand is what somebody asks to be told, at night too.
type tellCommand struct {
	Ask  tellAskCommand  `cmd:"" help:"Ask to be told when a coat is ready, or a room fit again."`
	List tellListCommand `cmd:"" help:"What was asked for and is not told yet."`
	Drop tellDropCommand `cmd:"" help:"Take back what was asked for."`
}

type tellAskCommand struct {
	journalFlags
	Room  string `help:"A room, to be told when it is fit to coat again." placeholder:"ID"`
	Coat  string `help:"A coat, to be told when it is ready." placeholder:"ID"`
	Stage string `help:"The stage that the coat is to reach." default:"dry-to-recoat"`
	Ahead period `help:"So long before the likely time, not once it is reached." default:"0s" placeholder:"1h"`
}

// Run keeps the wish; a hub that runs takes it up within seconds.
func (c *tellAskCommand) Run(s *session) error {
	if (c.Room == "") == (c.Coat == "") {
		return usage{errors.New("name a coat with --coat or a room with --room, one of them")}
	}
	wish := alert.Wish{ID: uuid.NewString(), Room: c.Room, Made: time.Now()}
	if c.Coat != "" {
		stage, err := parseStage(c.Stage)
		if err != nil {
			return usage{err}
		}
		if wish.Room, err = c.roomOf(s, c.Coat); err != nil {
			return err
		}
		wish.Coat, wish.Stage, wish.Ahead = c.Coat, stage.String(), time.Duration(c.Ahead)
	}
	if err := c.withOutbox(s, func(o *alert.Outbox) error { return o.AddWish(s.ctx, wish) }); err != nil {
		return err
	}
	fmt.Fprintln(s.stdout, "Noted: you are told, at night too.")
	return nil
}

func parseStage(name string) (drying.Stage, error) {
	var all []string
	for i := range drying.StageCount {
		s := drying.Stage(i)
		if s.String() == name {
			return s, nil
		}
		all = append(all, s.String())
	}
	return 0, fmt.Errorf("no stage is called %q: one of %v", name, all)
}

// roomOf is where a coat's part lies now.
func (f journalFlags) roomOf(s *session, id string) (room string, err error) {
	err = f.with(s, func(_ config, j *shop.Journal) error {
		coat, err := j.Coat(s.ctx, id)
		if err == nil && coat.Part.Room == "" {
			err = fmt.Errorf("the part of coat %s is in no room: nobody measures there", id)
		}
		room = coat.Part.Room
		return err
	})
	return room, err
}

type tellListCommand struct {
	journalFlags
}

// Run lists the wishes that wait.
func (c *tellListCommand) Run(s *session) error {
	return c.withOutbox(s, func(o *alert.Outbox) error {
		all, err := o.Wishes(s.ctx)
		if err != nil {
			return err
		}
		if c.JSON {
			return writeJSON(s.stdout, wishReports(all))
		}
		w := tabwriter.NewWriter(s.stdout, 0, 0, 2, ' ', 0)
		for _, x := range all {
			what := "fit again"
			if x.Coat != "" {
				what = x.Coat + " " + x.Stage
			}
			if x.Ahead > 0 {
				what += ", " + span(x.Ahead) + " ahead"
			}
			fmt.Fprintf(w, "%s\t%s\t%s\n", x.ID, x.Room, what)
		}
		return w.Flush()
	})
}

// wishReport is a wish for machines.
type wishReport struct {
	ID    string    `json:"id"`
	Room  string    `json:"room"`
	Coat  string    `json:"coat,omitempty"`
	Stage string    `json:"stage,omitempty"`
	Ahead float64   `json:"ahead_min"`
	Made  time.Time `json:"made_at"`
}

func wishReports(all []alert.Wish) []wishReport {
	reports := make([]wishReport, 0, len(all))
	for _, w := range all {
		reports = append(reports, wishReport{w.ID, w.Room, w.Coat, w.Stage, w.Ahead.Minutes(), w.Made})
	}
	return reports
}

type tellDropCommand struct {
	journalFlags
	ID string `arg:"" help:"As recoat tell list shows it."`
}

// Run takes a wish back.
func (c *tellDropCommand) Run(s *session) error {
	return c.withOutbox(s, func(o *alert.Outbox) error {
		was, err := o.DropWish(s.ctx, c.ID)
		if err == nil && !was {
			return fmt.Errorf("nothing that waits is called %q: recoat tell list shows what does", c.ID)
		}
		return err
	})
}

// withOutbox opens the outbox of the data folder, beside a hub that may run on
// it.
func (f journalFlags) withOutbox(s *session, do func(*alert.Outbox) error) error {
	_, at, err := f.folder()
	if err != nil {
		return err
	}
	if _, err := os.Stat(at.outbox()); err != nil {
		return fmt.Errorf("no hub has run with this data folder yet: %w", err)
	}
	o, err := alert.OpenOutbox(s.ctx, at.outbox())
	if err != nil {
		return err
	}
	return errors.Join(do(o), o.Close())
}
