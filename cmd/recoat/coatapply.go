package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"time"

	"recoat/drying"
	"recoat/internal/shop"
	"recoat/internal/shop/compat"
	"recoat/internal/shop/film"
)

type coatApplyCommand struct {
	journalFlags
	Part    string     `required:"" help:"The part's id." placeholder:"p-0001.1"`
	Product string     `required:"" help:"The product's id." placeholder:"f-0001"`
	At      timeFlag   `help:"When it was put on; now if left out." placeholder:"TIME"`
	Film    filmFlag   `help:"Wet film, as measured." placeholder:"100um"`
	Used    volumeFlag `help:"How much was used." placeholder:"120mL"`
	Area    areaFlag   `help:"The area it went over: gives the film where that was not measured, and not for spraying." placeholder:"1.2m2"`
	Can     string     `help:"The can on the shelf that it came out of." placeholder:"s-0001"`
	Recipe  string     `help:"The mix that it was." placeholder:"m-0001"`
	Method  string     `help:"How: brush, roller, spray, pad or wipe." placeholder:"brush"`
	Batch   string     `help:"The can's batch." placeholder:"TEXT"`
	Mix     string     `help:"What was mixed or thinned, and how much." placeholder:"TEXT"`
	Abraded bool       `help:"What lies below was abraded first."`
	Over    classFlag  `help:"What lies below, where the journal cannot know, such as oil-stain or unknown-film." placeholder:"CLASS"`
	As      classFlag  `help:"What this coat is, where the label cannot tell, such as dewaxed-shellac." placeholder:"CLASS"`
	Note    string     `help:"A note, such as why a warning was passed over." placeholder:"TEXT"`
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

// appliedReport is a coat just recorded, with what there is to think of.
type appliedReport struct {
	coatReport
	Advice []compat.Advice `json:"advice"`
	Shelf  []shelfWarning  `json:"shelf"`
}

// Run records a coat. Its advice goes to stderr, and never stops it.
func (c *coatApplyCommand) Run(s *session) error {
	_, at, err := c.folder()
	if err != nil {
		return err
	}
	table, err := loadCompat(at.compatibility())
	if err != nil {
		return err
	}
	a, err := c.application()
	if err != nil {
		return usage{err}
	}
	return c.with(s, func(_ config, j *shop.Journal) error {
		shelf, err := shelfWarnings(s, j, a)
		if err != nil {
			return err
		}
		coat, err := j.ApplyCoat(s.ctx, a, time.Now())
		if err != nil {
			return err
		}
		advice, err := c.advise(s, j, table, coat)
		if err != nil {
			return err
		}
		report := appliedReport{reportCoat(coat), advice, shelf}
		if c.JSON {
			return writeJSON(s.stdout, report)
		}
		fmt.Fprintf(s.stdout, "%s  %s on %s, %s, at %s\n", coat.ID, coat.Product.Label.Name, coat.Piece, coat.Part.Name, onClock(coat.Applied))
		for _, caution := range shop.Cautions(coat.Product.Label) {
			fmt.Fprintln(s.stdout, caution)
		}
		report.warn(s)
		return nil
	})
}

// application is the coat as it was told of, its film from the volume and the
// area where it was not measured.
func (c *coatApplyCommand) application() (shop.Application, error) {
	a := shop.Application{
		Part: c.Part, Product: c.Product, Applied: c.At.orNow(), Film: drying.Microns(c.Film),
		Method: shop.Method(c.Method), Batch: c.Batch, Mix: c.Mix,
		Recipe: c.Recipe, Can: c.Can, UsedML: float64(c.Used), Abraded: c.Abraded, Note: c.Note,
	}
	switch {
	case c.Area == 0 || c.Film != 0:
		return a, nil
	case c.Used == 0:
		return a, errors.New("--area gives the film only together with --used, such as --used 120mL")
	case a.Method == shop.Spray || a.Method == "":
		return a, errors.New("--area gives the film only where nearly all of it stays on the piece: say --method brush, roller, pad or wipe, or measure the film of a sprayed coat")
	}
	var err error
	a.Film, err = film.Wet(film.Millilitres(c.Used), film.SquareMetres(c.Area), 1)
	return a, err
}

// shelfWarning is what to think of about a can.
type shelfWarning struct {
	Can      string   `json:"can"`
	Batch    string   `json:"batch"`
	Warnings []string `json:"warnings"`
}

// shelfWarnings looks at the can that a coat came out of or, where none is
// named, at those of its product that are not empty.
func shelfWarnings(s *session, j *shop.Journal, a shop.Application) ([]shelfWarning, error) {
	cans, err := j.Cans(s.ctx, a.Product)
	if err != nil {
		return nil, err
	}
	all := []shelfWarning{}
	for _, can := range cans {
		if can.ID != a.Can && (a.Can != "" || can.LeftML == 0) {
			continue
		}
		if w := can.Warnings(a.Applied, a.UsedML); len(w) > 0 {
			all = append(all, shelfWarning{can.ID, can.Batch, w})
		}
	}
	return all, nil
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
func (r appliedReport) warn(s *session) {
	for _, can := range r.Shelf {
		for _, w := range can.Warnings {
			fmt.Fprintf(s.stderr, "Shelf: %s %s\n", can.Can, w)
		}
	}
	asks := false
	for _, a := range r.Advice {
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
	if asks && r.Note == "" {
		fmt.Fprintf(s.stderr, "The coat is recorded. If it stays on, say why: recoat coat note %s TEXT\n", r.ID)
	}
}
