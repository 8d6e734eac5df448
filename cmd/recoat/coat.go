package main

import (
	"fmt"
	"path/filepath"
	"text/tabwriter"
	"time"

	"recoat/drying"
	"recoat/internal/quantity"
	"recoat/internal/shop"
	"recoat/internal/shop/compat"
)

type coatCommand struct {
	Apply coatApplyCommand `cmd:"" help:"Record a coat, and say what is known of it over the one below."`
	List  coatListCommand  `cmd:"" help:"The coats put on, the oldest first."`
	Note  coatNoteCommand  `cmd:"" help:"Put a note on a coat, such as why a warning was passed over."`
	Undo  coatUndoCommand  `cmd:"" help:"Mark a coat as never put on; the journal keeps it."`
}

type coatApplyCommand struct {
	journalFlags
	Part    string    `required:"" help:"The part's id." placeholder:"p-0001.1"`
	Product string    `required:"" help:"The product's id." placeholder:"f-0001"`
	At      timeFlag  `help:"When it was put on; now if left out." placeholder:"TIME"`
	Film    filmFlag  `help:"Wet film, as measured." placeholder:"100um"`
	Method  string    `help:"How: brush, roller, spray, pad or wipe." placeholder:"brush"`
	Batch   string    `help:"The can's batch." placeholder:"TEXT"`
	Mix     string    `help:"What was mixed or thinned, and how much." placeholder:"TEXT"`
	Abraded bool      `help:"What lies below was abraded first."`
	Over    classFlag `help:"What lies below, where the journal cannot know, such as oil-stain or unknown-film." placeholder:"CLASS"`
	As      classFlag `help:"What this coat is, where the label cannot tell, such as dewaxed-shellac." placeholder:"CLASS"`
	Note    string    `help:"A note, such as why a warning was passed over." placeholder:"TEXT"`
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

type classFlag compat.Class

func (f *classFlag) UnmarshalText(text []byte) error {
	class, err := compat.ParseClass(string(text))
	*f = classFlag(class)
	return err
}

// or sets the class of a layer where it was said.
func (f classFlag) or(l compat.Layer) compat.Layer {
	if f != "" {
		l.Class = compat.Class(f)
	}
	return l
}

// coatReport is a coat for machines.
type coatReport struct {
	shop.Coat
	Name   string          `json:"product_name"`
	Advice []compat.Advice `json:"advice,omitzero"`
}

func reportCoat(c shop.Coat) coatReport { return coatReport{Coat: c, Name: c.Product.Label.Name} }

// Run records a coat. Its advice goes to stderr, and never stops it.
func (c *coatApplyCommand) Run(s *session) error {
	_, folder, err := c.folder()
	if err != nil {
		return err
	}
	table, err := loadCompat(folder.compatibility())
	if err != nil {
		return err
	}
	now := time.Now()
	applied := c.At.orNow()
	return c.with(s, func(_ config, j *shop.Journal) error {
		coat, err := j.ApplyCoat(s.ctx, shop.Application{
			Part: c.Part, Product: c.Product, Applied: applied, Film: drying.Microns(c.Film),
			Method: shop.Method(c.Method), Batch: c.Batch, Mix: c.Mix, Abraded: c.Abraded, Note: c.Note,
		}, now)
		if err != nil {
			return err
		}
		advice, err := c.advise(s, j, table, coat)
		if err != nil {
			return err
		}
		if c.JSON {
			r := reportCoat(coat)
			r.Advice = advice
			return writeJSON(s.stdout, r)
		}
		fmt.Fprintf(s.stdout, "%s  %s on %s, %s, at %s\n", coat.ID, coat.Product.Label.Name, coat.Piece, coat.Part.Name, onClock(coat.Applied))
		for _, caution := range shop.Cautions(coat.Product.Label) {
			fmt.Fprintln(s.stdout, caution)
		}
		c.warn(s, coat, advice)
		return nil
	})
}

// compatibility is where the finisher's own rules may lie.
func (f folder) compatibility() string { return filepath.Join(string(f), "compatibility.toml") }

// loadCompat returns the rules that are known, with those of the file at path
// if there is one.
func loadCompat(path string) (compat.Table, error) {
	f, err := openOptional(path)
	if err != nil || f == nil {
		return compat.NewTable(), err
	}
	defer f.Close()
	own, err := compat.LoadRules(f, path)
	return compat.NewTable(own...), err
}

// advise says what is known of the coat over the one below it.
func (c *coatApplyCommand) advise(s *session, j *shop.Journal, table compat.Table, coat shop.Coat) ([]compat.Advice, error) {
	earlier, err := j.Coats(s.ctx, shop.CoatFilter{Part: coat.Part.ID, To: coat.Applied})
	if err != nil {
		return nil, err
	}
	m := compat.Meeting{Above: c.As.or(compat.LayerOf(coat.Product.Label)), Abraded: c.Abraded}
	if n := len(earlier); n > 0 {
		m.Below = compat.LayerOf(earlier[n-1].Product.Label)
		m.Since = coat.Applied.Sub(earlier[n-1].Applied)
	} else if c.Over == "" {
		return []compat.Advice{}, nil // nothing is known to lie below
	}
	m.Below = c.Over.or(m.Below)
	return table.Check(m), nil
}

// warn writes what there is to think of.
func (c *coatApplyCommand) warn(s *session, coat shop.Coat, advice []compat.Advice) {
	asks := false
	for _, a := range advice {
		if !a.Warns() {
			continue
		}
		asks = asks || a.Asks()
		basis := ""
		if a.Confidence != "" {
			basis = fmt.Sprintf(" (%s confidence; source: %s)", a.Confidence, a.Source)
		}
		fmt.Fprintf(s.stderr, "Advice: %s%s\n", a.Text, basis)
	}
	if asks && coat.Note == "" {
		fmt.Fprintf(s.stderr, "The coat is recorded. If it stays on, say why: recoat coat note %s TEXT\n", coat.ID)
	}
}

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
			fmt.Fprintln(s.stdout, "No such coat.")
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
