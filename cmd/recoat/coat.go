package main

import (
	"fmt"
	"text/tabwriter"
	"time"

	"recoat/internal/quantity"
	"recoat/internal/shop"
)

type coatCommand struct {
	Apply coatApplyCommand `cmd:"" help:"Record a coat, and say what is known of it over the one below."`
	List  coatListCommand  `cmd:"" help:"The coats put on, the oldest first."`
	Note  coatNoteCommand  `cmd:"" help:"Put a note on a coat, such as why a warning was passed over."`
	Undo  coatUndoCommand  `cmd:"" help:"Mark a coat as never put on; the journal keeps it."`
}

type coatListCommand struct {
	journalFlags
	Room   string `help:"Only those put on in this room." placeholder:"ID"`
	Piece  string `help:"Only those on this piece." placeholder:"ID"`
	Part   string `help:"Only those on this part." placeholder:"ID"`
	Undone bool   `help:"Those undone too."`
}

type coatNoteCommand struct {
	journalFlags
	ID   string `arg:"" name:"id" help:"The coat's id, such as c-0001."`
	Text string `arg:"" help:"The note."`
}

type coatUndoCommand struct {
	journalFlags
	ID string `arg:"" name:"id" help:"The coat's id, such as c-0001."`
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

// Run puts a note on a coat.
func (c *coatNoteCommand) Run(s *session) error {
	return c.changed(s, c.ID, "noted", func(j *shop.Journal) error { return j.NoteCoat(s.ctx, c.ID, c.Text, time.Now()) })
}

// Run undoes a coat.
func (c *coatUndoCommand) Run(s *session) error {
	return c.changed(s, c.ID, "undone", func(j *shop.Journal) error { return j.UndoCoat(s.ctx, c.ID, time.Now()) })
}

// changed changes a coat and shows it.
func (f journalFlags) changed(s *session, id, done string, change func(*shop.Journal) error) error {
	return f.with(s, func(_ config, j *shop.Journal) error {
		if err := change(j); err != nil {
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
