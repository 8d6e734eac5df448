package main

import (
	"errors"
	"fmt"
	"os"
	"strings"
	"text/tabwriter"
	"time"

	"recoat/internal/follow"
	"recoat/internal/shop"
	"recoat/internal/shop/compat"
	"recoat/internal/shop/schedule"
)

type pieceScheduleCommand struct {
	journalFlags
	ID  string `arg:"" name:"id" help:"The piece's id, such as p-0001."`
	All bool   `help:"Every step, those that are done too."`
}

type piecePlanCommand struct {
	changeFlags
	Part     string `arg:"" help:"The part's id, such as p-0001.1."`
	Template string `help:"The template to begin with: recoat piece templates lists them." placeholder:"ID" xor:"from"`
	File     string `help:"A file with the steps, as --json writes them." type:"path" placeholder:"FILE" xor:"from"`
}

type pieceTemplatesCommand struct {
	JSON bool `name:"json" help:"Write JSON."`
}

type pieceTickCommand struct {
	changeFlags
	Part string   `arg:"" help:"The part's id, such as p-0001.1."`
	Step int      `arg:"" help:"The step's id, such as 2."`
	Skip bool     `help:"It is left out, not done."`
	At   timeFlag `help:"When; now if left out." placeholder:"TIME"`
}

type pieceUntickCommand struct {
	changeFlags
	Part string `arg:"" help:"The part's id, such as p-0001.1."`
	Step int    `arg:"" help:"The step's id, such as 2."`
}

// scheduleReport is what is next on a piece.
type scheduleReport struct {
	Piece string          `json:"piece"`
	Next  []schedule.Next `json:"next"`
	Ahead []aheadReport   `json:"ahead"`
	Parts []partSchedule  `json:"parts"`
}

// partSchedule is a part's schedule with what is done.
type partSchedule struct {
	ID       string         `json:"part"`
	Name     string         `json:"part_name"`
	Template string         `json:"template"`
	Steps    []scheduleStep `json:"steps"`
}

type scheduleStep struct {
	schedule.Step
	Title   string    `json:"title"`
	Done    time.Time `json:"done,omitzero"`
	Skipped time.Time `json:"skipped,omitzero"`
	Coat    string    `json:"coat,omitempty"`
}

func reportSchedule(p schedule.Part) partSchedule {
	r := partSchedule{ID: p.ID, Name: p.Name, Template: p.Template, Steps: []scheduleStep{}}
	for _, step := range p.Steps {
		mark := p.Marks[step.ID]
		r.Steps = append(r.Steps, scheduleStep{step, step.Title(), mark.Done, mark.Skipped, mark.Coat})
	}
	return r
}

// Run says what is next on a piece.
func (c *pieceScheduleCommand) Run(s *session) error {
	return c.with(s, func(cfg config, j *shop.Journal) error {
		return c.tellNext(s, cfg, j, c.ID, c.All)
	})
}

// tellNext writes what is next on a piece.
func (f journalFlags) tellNext(s *session, cfg config, j *shop.Journal, id string, all bool) (err error) {
	parts, err := j.Schedules(s.ctx, id)
	if err != nil {
		return err
	}
	look, err := f.look(s, cfg, j, id)
	if err != nil {
		return err
	}
	report := scheduleReport{Piece: id, Next: append([]schedule.Next{}, schedule.NextSteps(parts, look, s.now())...), Parts: each(parts, reportSchedule)}
	if report.Ahead, err = f.ahead(s, j, report.Next); err != nil {
		return err
	}
	if f.JSON {
		return writeJSON(s.stdout, report)
	}
	if err := report.print(s, all); err != nil {
		return err
	}
	for _, a := range report.Ahead {
		warn(s, a.Advice)
	}
	return nil
}

// look says how far the coats of a piece are, from the store.
func (f journalFlags) look(s *session, cfg config, j *shop.Journal, id string) (look schedule.Look, err error) {
	piece, err := j.Piece(s.ctx, id)
	if err != nil {
		return nil, err
	}
	coats, err := j.Coats(s.ctx, shop.CoatFilter{Piece: id})
	if err != nil {
		return nil, err
	}
	err = f.reading(s, cfg, j, func(r follow.Reader) error {
		look, err = r.Look(s.ctx, coats, piece.Delivered, s.now())
		return err
	})
	return look, err
}

// reading opens the store for do to read how far coats are.
func (f journalFlags) reading(s *session, cfg config, j *shop.Journal, do func(follow.Reader) error) error {
	_, at, err := f.folder()
	if err != nil {
		return err
	}
	readings, done, err := openReadings(s.ctx, cfg, at, f.Simulated)
	if err != nil {
		return err
	}
	return errors.Join(do(follow.Reader{Readings: readings, Places: j}), done())
}

// ahead is what there is to think of before the coats that are next, as far as
// the schedule names their products.
func (f journalFlags) ahead(s *session, j *shop.Journal, next []schedule.Next) ([]aheadReport, error) {
	_, at, err := f.folder()
	if err != nil {
		return nil, err
	}
	table, err := compat.OpenTable(at.compatibility())
	if err != nil {
		return nil, err
	}
	all := []aheadReport{}
	for _, n := range next {
		if n.Step.Product == "" {
			continue // what will be put on is not known
		}
		when := s.now()
		if n.Likely.After(when) {
			when = n.Likely
		}
		a, err := j.CoatDefaults(s.ctx, n.Part, n.Step.Product, when)
		if err != nil {
			return nil, err
		}
		advice, err := j.Advise(s.ctx, table, a)
		if err != nil {
			return nil, err
		}
		all = append(all, aheadReport{n.Part, a.Product, advice})
	}
	return all, nil
}

// aheadReport is what there is to think of before a coat that is next.
type aheadReport struct {
	Part    string `json:"part"`
	Product string `json:"product"`
	shop.Advice
}

func (r scheduleReport) print(s *session, all bool) error {
	if len(r.Next) == 0 {
		fmt.Fprintln(s.stdout, "Nothing is left to do, or no part has a schedule: recoat piece plan PART --template ID gives it one.")
	}
	for _, n := range r.Next {
		fmt.Fprintf(s.stdout, "%s  %s, step %d of %d: %s\n", n.Part, n.Name, n.Place, n.Of, n.Title)
		for _, w := range n.Waits {
			fmt.Fprintf(s.stdout, "  %s%s\n", w.Text, whenLikely(w))
		}
		switch {
		case n.Ready && len(n.Waits) == 0:
			fmt.Fprintln(s.stdout, "  now")
		case n.Ready:
			fmt.Fprintln(s.stdout, "  now, as far as the clock can tell")
		}
		if n.Late {
			fmt.Fprintf(s.stdout, "  The window for the next coat closed at %s: abrade first.\n", onClock(n.RecoatBy))
		}
	}
	if len(r.Next) > 0 {
		fmt.Fprintln(s.stdout, safety)
	}
	if !all {
		return nil
	}
	w := tabwriter.NewWriter(s.stdout, 0, 0, 2, ' ', 0)
	for _, p := range r.Parts {
		for _, step := range p.Steps {
			fmt.Fprintf(w, "%s\t%s\t%d\t%s\t%s\n", p.ID, p.Name, step.ID, step.Title, step.state())
		}
	}
	return w.Flush()
}

func (s scheduleStep) state() string {
	switch {
	case s.Coat != "":
		return s.Coat + ", " + onClock(s.Done)
	case !s.Done.IsZero():
		return "done " + onClock(s.Done)
	case !s.Skipped.IsZero():
		return "skipped"
	}
	return ""
}

// whenLikely is when a wait is likely over.
func whenLikely(w schedule.Waiting) string {
	if !w.Known || w.Likely.IsZero() {
		return ""
	}
	text := ": about " + onClock(w.Likely)
	if !w.Low.IsZero() && !w.High.IsZero() && w.High.After(w.Low) {
		text += ", between " + onClock(w.Low) + " and " + onClock(w.High)
	}
	return text
}

// Run gives a part its steps.
func (c *piecePlanCommand) Run(s *session) error {
	steps, err := c.steps()
	if err != nil {
		return usage{err}
	}
	return c.stepped(s, c.Part, func(j *shop.Journal) error {
		return j.SetSchedule(c.tapped(s), c.Part, c.Template, steps, s.now())
	})
}

func (c *piecePlanCommand) steps() ([]schedule.Step, error) {
	switch {
	case c.Template != "":
		t, ok := schedule.FindTemplate(c.Template)
		if !ok {
			return nil, fmt.Errorf("no template is called %q: recoat piece templates lists them", c.Template)
		}
		return t.Steps, nil
	case c.File != "":
		f, err := os.Open(c.File)
		if err != nil {
			return nil, fmt.Errorf("read the steps: %w", err)
		}
		defer func() { _ = f.Close() }() // it was only read
		steps, err := schedule.ReadSteps(f)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", c.File, err)
		}
		return steps, nil
	}
	return nil, errors.New("say --template, such as --template painted-bare, or --file with steps of your own")
}

// stepped changes a part's schedule and tells what is next on its piece.
func (f changeFlags) stepped(s *session, part string, change func(*shop.Journal) error) error {
	return f.with(s, func(cfg config, j *shop.Journal) error {
		if err := change(j); err != nil {
			return err
		}
		id, _, _ := strings.Cut(part, ".")
		return f.tellNext(s, cfg, j, id, false)
	})
}

// Run lists the templates.
func (c *pieceTemplatesCommand) Run(s *session) error {
	all := schedule.Templates()
	if c.JSON {
		return writeJSON(s.stdout, all)
	}
	w := tabwriter.NewWriter(s.stdout, 0, 0, 2, ' ', 0)
	for _, t := range all {
		fmt.Fprintf(w, "%s\t%s\t%s\n", t.ID, t.Name, t.For)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	fmt.Fprintln(s.stdout, "All of them are common practice, no source: change them to what the labels say.")
	return nil
}

// Run marks a step.
func (c *pieceTickCommand) Run(s *session) error {
	return c.stepped(s, c.Part, func(j *shop.Journal) error {
		return j.TickStep(c.tapped(s), c.Part, c.Step, c.At.or(s.now()), c.Skip, s.now())
	})
}

// Run takes the mark of a step back.
func (c *pieceUntickCommand) Run(s *session) error {
	return c.stepped(s, c.Part, func(j *shop.Journal) error {
		return j.UntickStep(c.tapped(s), c.Part, c.Step, s.now())
	})
}
