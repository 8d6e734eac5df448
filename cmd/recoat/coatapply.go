package main

import (
	"fmt"
	"path/filepath"
	"strings"

	"recoat/drying"
	"recoat/internal/quantity"
	"recoat/internal/shop"
	"recoat/internal/shop/compat"
)

type coatApplyCommand struct {
	changeFlags
	Part    string       `required:"" help:"The part's id." placeholder:"p-0001.1"`
	Product string       `help:"The product's id; the schedule's next or the last used one if left out." placeholder:"f-0001"`
	At      timeFlag     `help:"When it was put on; now if left out." placeholder:"TIME"`
	Step    int          `help:"The step of the part's schedule that it is; the next coat if left out, none with -1." placeholder:"N"`
	Film    filmFlag     `help:"Wet film, as measured; as last time if neither film, gauge nor amount is told." placeholder:"100um"`
	Gauge   gaugeFlag    `help:"Instead: between the last wet tooth of a gauge and the next dry one." placeholder:"75um..100um"`
	Used    volumeFlag   `help:"How much was used." placeholder:"120mL"`
	Area    areaFlag     `help:"The area it went over: gives the film where that was not measured, and not for spraying." placeholder:"1.2m2"`
	Can     string       `help:"The can on the shelf that it came out of." placeholder:"s-0001"`
	Recipe  string       `help:"The mix that it was." placeholder:"m-0001"`
	Method  string       `help:"How: brush, roller, spray, pad or wipe; as last time if left out." placeholder:"brush"`
	Batch   string       `help:"The can's batch." placeholder:"TEXT"`
	Thinned humidityFlag `help:"Thinner, as a share of the paint's volume." placeholder:"5%"`
	Mix     string       `help:"What was mixed, and how much." placeholder:"TEXT"`
	Abraded bool         `help:"What lies below was abraded first."`
	Over    classFlag    `help:"What lies below, where the journal cannot know, such as oil-stain or unknown-film." placeholder:"CLASS"`
	As      classFlag    `help:"What this coat is, where the label cannot tell, such as dewaxed-shellac." placeholder:"CLASS"`
	Reason  string       `help:"Why a warning is passed over." placeholder:"TEXT"`
	Note    string       `help:"A note." placeholder:"TEXT"`
}

// gaugeFlag takes "75um..100um".
type gaugeFlag struct{ least, most drying.Microns }

func (f *gaugeFlag) UnmarshalText(text []byte) error {
	low, high, ok := strings.Cut(string(text), "..")
	if !ok {
		return fmt.Errorf("%s is no reading of a gauge: write the last wet tooth and the next dry one, such as 75um..100um", quantity.Quote(string(text)))
	}
	var err error
	if low != "0" {
		if f.least, err = quantity.ParseFilm(low); err != nil {
			return err
		}
	}
	f.most, err = quantity.ParseFilm(high)
	return err
}

type classFlag compat.Class

func (f *classFlag) UnmarshalText(text []byte) error {
	class, err := compat.ParseClass(string(text))
	*f = classFlag(class)
	return err
}

// appliedReport is a coat just recorded, with what there is to think of.
type appliedReport struct {
	coatReport
	shop.Advice
}

// Run records a coat. Its advice goes to stderr, and never stops it.
func (c *coatApplyCommand) Run(s *session) error {
	_, at, err := c.folder()
	if err != nil {
		return err
	}
	table, err := compat.OpenTable(at.compatibility())
	if err != nil {
		return err
	}
	return c.with(s, func(_ config, j *shop.Journal) error {
		a, err := c.application(s, j)
		if err != nil {
			return err
		}
		advice, err := j.Advise(s.ctx, table, a)
		if err != nil {
			return err
		}
		a.Warned = advice.Warned()
		coat, err := j.ApplyCoat(c.tapped(s), a, s.now())
		if err != nil {
			return err
		}
		if c.JSON {
			return writeJSON(s.stdout, appliedReport{reportCoat(coat), advice})
		}
		fmt.Fprintf(s.stdout, "%s  %s on %s, %s, at %s\n", coat.ID, coat.Product.Label.Name, coat.Piece, coat.Part.Name, onClock(coat.Applied))
		for _, caution := range advice.Cautions {
			fmt.Fprintln(s.stdout, caution)
		}
		warn(s, advice)
		if advice.Asks() && coat.Reason == "" && coat.Note == "" {
			fmt.Fprintf(s.stderr, "The coat is recorded. If it stays on, say why: recoat coat edit %s --reason TEXT\n", coat.ID)
		}
		return nil
	})
}

// application is the coat as it was told of, with what was not told as it was
// the last time.
func (c *coatApplyCommand) application(s *session, j *shop.Journal) (shop.Application, error) {
	a := shop.Application{
		Part: c.Part, Product: c.Product, Applied: c.At.or(s.now()), Step: c.Step, Film: drying.Microns(c.Film), FilmLeast: c.Gauge.least, FilmMost: c.Gauge.most,
		Method: shop.Method(c.Method), Batch: c.Batch, ThinnedPct: float64(c.Thinned), Mix: c.Mix, Recipe: c.Recipe, Can: c.Can,
		UsedML: float64(c.Used), AreaM2: float64(c.Area), Abraded: c.Abraded, Over: compat.Class(c.Over), Class: compat.Class(c.As), Reason: c.Reason, Note: c.Note,
	}
	usual, err := j.CoatDefaults(s.ctx, c.Part, c.Product, a.Applied)
	if err != nil {
		return a, err
	}
	if a.Product == "" {
		a.Product = usual.Product
	}
	if a.Method == "" {
		a.Method = usual.Method
	}
	if err := a.FromVolume(); err != nil {
		return a, err
	}
	if a.Film == 0 && a.FilmMost == 0 {
		a.Film = usual.Film
	}
	if a.Product == "" {
		return a, &shop.InputError{Field: "the product", Problem: "is not told, and nothing was put on yet that it could be: say --product"}
	}
	return a, nil
}

// compatibility is where the finisher's own rules may lie.
func (f folder) compatibility() string { return filepath.Join(string(f), "compatibility.toml") }

// warn writes what there is to think of.
func warn(s *session, advice shop.Advice) {
	for _, can := range advice.Shelf {
		for _, w := range can.Warnings {
			fmt.Fprintf(s.stderr, "Shelf: %s %s\n", can.Can, w)
		}
	}
	for _, a := range advice.Compat {
		if !a.Warns() {
			continue
		}
		basis := ""
		if a.Confidence != "" {
			basis = fmt.Sprintf(" (%s confidence; source: %s)", a.Confidence, a.Source)
		}
		fmt.Fprintf(s.stderr, "Advice: %s%s\n", a.Text, basis)
	}
}
