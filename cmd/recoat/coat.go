package main

import (
	"context"
	"fmt"
	"text/tabwriter"

	"recoat/drying"
	"recoat/internal/quantity"
	"recoat/internal/shop"
	"recoat/internal/shop/compat"
)

type coatCommand struct {
	Apply  coatApplyCommand  `cmd:"" help:"Record a coat, and say what is known of it over the one below."`
	List   coatListCommand   `cmd:"" help:"The coats put on, the oldest first."`
	Edit   coatEditCommand   `cmd:"" help:"Change what was recorded of a coat; the journal keeps what was there."`
	Note   coatNoteCommand   `cmd:"" help:"Put a note on a coat."`
	Defect coatDefectCommand `cmd:"" help:"Record a defect that was seen in a coat, with photo and where."`
	Undo   coatUndoCommand   `cmd:"" help:"Mark a coat as never put on; the journal keeps it."`
	Rags   coatRagsCommand   `cmd:"" help:"Oily rags that nobody has dealt with yet; with a coat's id, say that they are."`
}

type coatListCommand struct {
	journalFlags
	Room   string `help:"Only those put on in this room." placeholder:"ID"`
	Piece  string `help:"Only those on this piece." placeholder:"ID"`
	Part   string `help:"Only those on this part." placeholder:"ID"`
	Undone bool   `help:"Those undone too."`
}

type coatEditCommand struct {
	changeFlags
	ID      string        `arg:"" name:"id" help:"The coat's id, such as c-0001."`
	Product *string       `help:"The product's id." placeholder:"f-0001"`
	At      *timeFlag     `help:"When it was put on." placeholder:"TIME"`
	Film    *filmFlag     `help:"Wet film, as measured." placeholder:"100um"`
	Method  *string       `help:"How: brush, roller, spray, pad or wipe." placeholder:"brush"`
	Batch   *string       `help:"The can's batch." placeholder:"TEXT"`
	Thinned *humidityFlag `help:"Thinner, as a share of the paint's volume." placeholder:"5%"`
	Mix     *string       `help:"What was mixed, and how much." placeholder:"TEXT"`
	Recipe  *string       `help:"The mix that it was." placeholder:"m-0001"`
	Can     *string       `help:"The can that it came out of." placeholder:"s-0001"`
	Used    *volumeFlag   `help:"How much was used." placeholder:"120mL"`
	Area    *areaFlag     `help:"The area it went over." placeholder:"1.2m2"`
	Abraded *bool         `help:"What lies below was abraded first." negatable:""`
	Over    *classFlag    `help:"What lies below." placeholder:"CLASS"`
	As      *classFlag    `help:"What this coat is." placeholder:"CLASS"`
	Reason  *string       `help:"Why a warning is passed over." placeholder:"TEXT"`
	Note    *string       `help:"A note." placeholder:"TEXT"`
}

type coatNoteCommand struct {
	changeFlags
	ID   string `arg:"" name:"id" help:"The coat's id, such as c-0001."`
	Text string `arg:"" help:"The note."`
}

type coatUndoCommand struct {
	changeFlags
	ID string `arg:"" name:"id" help:"The coat's id, such as c-0001."`
}

type coatRagsCommand struct {
	changeFlags
	Done string `arg:"" optional:"" help:"The coat whose rags are dealt with, such as c-0001."`
}

// coatReport is a coat for machines.
type coatReport struct {
	shop.Coat
	Name string `json:"product_name"`
}

func reportCoat(c shop.Coat) coatReport { return coatReport{Coat: c, Name: c.Product.Label.Name} }

// Run lists coats.
func (c *coatListCommand) Run(s *session) error {
	return c.with(s, func(_ config, j *shop.Journal) error {
		coats, err := j.Coats(s.ctx, shop.CoatFilter{Room: c.Room, Piece: c.Piece, Part: c.Part, Undone: c.Undone})
		if err != nil {
			return err
		}
		if c.JSON {
			return writeJSON(s.stdout, each(coats, reportCoat))
		}
		if len(coats) == 0 {
			fmt.Fprintln(s.stdout, "No coat yet, or none like that: recoat coat apply notes one.")
			return nil
		}
		return printCoats(s, coats)
	})
}

func printCoats(s *session, coats []shop.Coat) error {
	w := tabwriter.NewWriter(s.stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "id\tput on\tpart\tproduct\tfilm\tmethod\tnote")
	for _, c := range coats {
		film, note := "", c.Note
		if c.Film != 0 {
			film = quantity.FormatFilm(c.Film)
		}
		if !c.Undone.IsZero() {
			note = "undone " + onClock(c.Undone) + " " + note
		}
		fmt.Fprintf(w, "%s\t%s\t%s, %s\t%s\t%s\t%s\t%s\n", c.ID, onClock(c.Applied), c.Piece, c.Part.Name, c.Product.Label.Name, film, c.Method, note)
	}
	return w.Flush()
}

// Run changes what was recorded of a coat.
func (c *coatEditCommand) Run(s *session) error {
	e := shop.CoatEdit{
		Product: c.Product, Applied: moment(c.At), Film: number[drying.Microns](c.Film), Method: word[shop.Method](c.Method), Batch: c.Batch,
		ThinnedPct: number[float64](c.Thinned), Mix: c.Mix, Recipe: c.Recipe, Can: c.Can, UsedML: number[float64](c.Used), AreaM2: number[float64](c.Area),
		Abraded: c.Abraded, Over: word[compat.Class](c.Over), Class: word[compat.Class](c.As), Reason: c.Reason, Note: c.Note,
	}
	return c.changed(s, c.ID, "changed", func(ctx context.Context, j *shop.Journal) error {
		_, err := j.EditCoat(ctx, c.ID, e, s.now())
		return err
	})
}

// Run puts a note on a coat.
func (c *coatNoteCommand) Run(s *session) error {
	return c.changed(s, c.ID, "noted", func(ctx context.Context, j *shop.Journal) error { return j.NoteCoat(ctx, c.ID, c.Text, s.now()) })
}

// Run undoes a coat.
func (c *coatUndoCommand) Run(s *session) error {
	return c.changed(s, c.ID, "undone", func(ctx context.Context, j *shop.Journal) error { return j.UndoCoat(ctx, c.ID, s.now()) })
}

// changed changes a coat and shows it.
func (f changeFlags) changed(s *session, id, done string, change func(context.Context, *shop.Journal) error) error {
	return f.with(s, func(_ config, j *shop.Journal) error {
		if err := change(f.tapped(s), j); err != nil {
			return err
		}
		coat, err := j.Coat(s.ctx, id)
		if err != nil {
			return err
		}
		if f.JSON {
			return writeJSON(s.stdout, reportCoat(coat))
		}
		fmt.Fprintf(s.stdout, "%s  %s on %s, %s, %s\n", coat.ID, coat.Product.Label.Name, coat.Piece, coat.Part.Name, done)
		return nil
	})
}

// Run lists the rags that are not dealt with, or says that some are.
func (c *coatRagsCommand) Run(s *session) error {
	return c.with(s, func(_ config, j *shop.Journal) error {
		if c.Done != "" {
			if err := j.TickReminder(c.tapped(s), c.Done, s.now()); err != nil {
				return err
			}
		}
		open, err := j.OpenReminders(s.ctx)
		if err != nil {
			return err
		}
		if c.JSON {
			return writeJSON(s.stdout, append([]shop.Reminder{}, open...))
		}
		if len(open) == 0 {
			fmt.Fprintln(s.stdout, "No oily rags are left.")
			return nil
		}
		for _, r := range open {
			fmt.Fprintf(s.stdout, "%s  %s on %s, %s, since %s\n", r.Coat, r.Product, r.Piece, r.Part, onClock(r.Opened))
		}
		fmt.Fprintln(s.stdout, open[0].Text)
		return nil
	})
}
