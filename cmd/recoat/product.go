package main

import (
	"context"
	"fmt"
	"text/tabwriter"
	"time"

	"recoat/drying"
	"recoat/internal/quantity"
	"recoat/internal/shop"
)

type productCommand struct {
	Add    productAddCommand    `cmd:"" help:"Take a product file into the journal; a changed label becomes a new version."`
	Edit   productEditCommand   `cmd:"" help:"Give a product another label, and another name if the file has one: its next version."`
	List   productListCommand   `cmd:"" help:"Every product, its newest version."`
	Show   productShowCommand   `cmd:"" help:"One product as its label states it, and what was assumed."`
	Export productExportCommand `cmd:"" help:"Write a product as a product file, with another name for a copy of it."`
	Preset productPresetCommand `cmd:"" help:"A product file with what is usual for a kind, to correct from the label."`
}

type productAddCommand struct {
	changeFlags
	File string `arg:"" help:"Product file." type:"path"`
}

type productEditCommand struct {
	changeFlags
	ID   string `arg:"" name:"id" help:"The product's id, such as f-0001."`
	File string `arg:"" help:"Product file." type:"path"`
}

type productExportCommand struct {
	journalFlags
	ID   string `arg:"" name:"id" help:"The product's id, such as f-0001."`
	Name string `help:"Another name, for a copy." placeholder:"TEXT"`
}

type productPresetCommand struct {
	Family string `arg:"" help:"How it dries: waterborne, solvent, oxidising, two-part or moisture-curing."`
	Kind   string `arg:"" optional:"" help:"What it is made of, such as acrylic; the commonest if left out."`
}

type productListCommand struct {
	journalFlags
}

type productShowCommand struct {
	journalFlags
	ID string `arg:"" name:"id" help:"The product's id, such as f-0001."`
}

// productReport is a product for machines.
type productReport struct {
	ID      string         `json:"id"`
	Version int64          `json:"version"`
	Name    string         `json:"name"`
	Family  drying.Family  `json:"family"`
	Kind    string         `json:"kind"`
	Added   time.Time      `json:"added"`
	Air     float64        `json:"stated_air_c"`
	RH      float64        `json:"stated_rh_pct"`
	Film    drying.Microns `json:"stated_film_um"`
	Stages  []labelReport  `json:"stages"`
	// RecoatBy is null where the label sets no such limit.
	RecoatBy *float64     `json:"recoat_by_min"`
	Limits   limitsReport `json:"limits"`
	Assumed  []string     `json:"assumed"`
	Class    string       `json:"class"`
	// Further are the label's other conditions, Fit how the model keeps to them.
	Further  []furtherReport `json:"also"`
	Fit      drying.LabelFit `json:"fit"`
	Archived time.Time       `json:"archived,omitzero"`
}

type furtherReport struct {
	Air    float64       `json:"air_c"`
	RH     float64       `json:"rh_pct"`
	Stages []labelReport `json:"stages"`
}

func reportFurther(f drying.Further) furtherReport {
	r := furtherReport{Air: float64(f.Air), RH: float64(f.Humidity), Stages: []labelReport{}}
	for _, stage := range drying.Stages() {
		if f.Times[stage] > 0 {
			r.Stages = append(r.Stages, labelReport{stage, minutes(f.Times[stage])})
		}
	}
	return r
}

type labelReport struct {
	Stage  drying.Stage `json:"stage"`
	Stated *float64     `json:"stated_min"`
}

type limitsReport struct {
	AirMin       float64  `json:"air_min_c"`
	AirMax       float64  `json:"air_max_c"`
	HumidityMin  float64  `json:"rh_min_pct"`
	HumidityMax  float64  `json:"rh_max_pct"`
	DewMarginMin float64  `json:"dew_margin_min_c"`
	AirDewMin    float64  `json:"air_dew_min_c"`
	FilmForms    *float64 `json:"film_forms_above_c"`
}

func reportProduct(p shop.Product) productReport {
	l := p.Label
	r := productReport{
		ID: p.ID, Version: p.Version, Name: l.Name, Family: l.Family, Kind: l.Kind, Added: p.Added,
		Air: float64(l.Stated.Air), RH: float64(l.Stated.Humidity), Film: l.Stated.Film,
		RecoatBy: minutes(l.Stated.RecoatBy), Assumed: append([]string{}, l.Assumed...),
		Limits: limitsReport{
			AirMin: float64(l.Limits.AirMin), AirMax: float64(l.Limits.AirMax),
			HumidityMin: float64(l.Limits.HumidityMin), HumidityMax: float64(l.Limits.HumidityMax),
			DewMarginMin: float64(l.Limits.DewMarginMin), AirDewMin: float64(l.Limits.AirMarginMin),
		},
	}
	if l.Limits.HasFilmForms {
		r.Limits.FilmForms = places(float64(l.Limits.FilmFormsAbove), 3)
	}
	for _, stage := range drying.Stages() {
		r.Stages = append(r.Stages, labelReport{stage, minutes(l.Stated.Times[stage])})
	}
	r.Class, r.Further, r.Archived = l.Class, each(l.Further, reportFurther), p.Archived
	if fit, err := l.LabelFit(); err == nil { // a product that is kept is complete
		r.Fit = fit
	}
	return r
}

// Run takes a product file into the journal.
func (c *productAddCommand) Run(s *session) error {
	return c.put(s, c.File, func(ctx context.Context, j *shop.Journal, label drying.Product) (shop.Product, error) {
		return j.PutProduct(ctx, label, s.now())
	})
}

// Run gives a product another label.
func (c *productEditCommand) Run(s *session) error {
	return c.put(s, c.File, func(ctx context.Context, j *shop.Journal, label drying.Product) (shop.Product, error) {
		return j.EditProduct(ctx, c.ID, label, s.now())
	})
}

// put takes a product file into the journal in one way or another.
func (f changeFlags) put(s *session, file string, put func(context.Context, *shop.Journal, drying.Product) (shop.Product, error)) error {
	label, err := shop.LoadProductFile(file)
	if err != nil {
		return err
	}
	return f.with(s, func(_ config, j *shop.Journal) error {
		p, err := put(f.tapped(s), j, label)
		if err != nil {
			return err
		}
		if f.JSON {
			return writeJSON(s.stdout, reportProduct(p))
		}
		fmt.Fprintf(s.stdout, "%s  %s, version %d\n", p.ID, p.Label.Name, p.Version)
		if fit, err := p.Label.LabelFit(); err == nil && fit.Times > 0 {
			fmt.Fprintln(s.stdout, fit.Sentence())
		}
		return nil
	})
}

// Run writes a product as a product file.
func (c *productExportCommand) Run(s *session) error {
	return c.with(s, func(_ config, j *shop.Journal) error {
		p, err := j.Product(s.ctx, c.ID)
		if err != nil {
			return err
		}
		if c.JSON {
			return writeJSON(s.stdout, reportProduct(p))
		}
		if c.Name != "" {
			p.Label.Name = c.Name
		}
		return shop.SaveProduct(s.stdout, p.Label)
	})
}

// Run writes what is usual for a kind.
func (c *productPresetCommand) Run(s *session) error {
	p, err := shop.Preset(drying.Family(c.Family), c.Kind)
	if err != nil {
		return usage{err}
	}
	fmt.Fprintln(s.stdout, "# What is usual for the kind: common practice, no source. Correct every line from the label.")
	return shop.SaveProduct(s.stdout, p)
}

// Run lists the products.
func (c *productListCommand) Run(s *session) error {
	return c.with(s, func(_ config, j *shop.Journal) error {
		products, err := j.Products(s.ctx)
		if err != nil {
			return err
		}
		if c.JSON {
			return writeJSON(s.stdout, each(products, reportProduct))
		}
		if len(products) == 0 {
			fmt.Fprintln(s.stdout, "No product yet: recoat product add FILE takes one in.")
			return nil
		}
		w := tabwriter.NewWriter(s.stdout, 0, 0, 2, ' ', 0)
		fmt.Fprintln(w, "id\tproduct\tfamily\tkind\trecoat after")
		for _, p := range products {
			fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\n", p.ID, p.Label.Name, p.Label.Family, p.Label.Kind,
				quantity.FormatDuration(p.Label.Stated.Times[drying.DryToRecoat]))
		}
		return w.Flush()
	})
}

// Run shows one product, as a product file that can be taken in again.
func (c *productShowCommand) Run(s *session) error {
	return c.with(s, func(_ config, j *shop.Journal) error {
		p, err := j.Product(s.ctx, c.ID)
		if err != nil {
			return err
		}
		if c.JSON {
			return writeJSON(s.stdout, reportProduct(p))
		}
		fmt.Fprintf(s.stdout, "# %s, version %d, taken in %s\n", p.ID, p.Version, onClock(p.Added))
		if err := shop.SaveProduct(s.stdout, p.Label); err != nil {
			return err
		}
		fmt.Fprintln(s.stdout)
		for _, key := range p.Label.Assumed {
			fmt.Fprintf(s.stdout, "# not on the label, taken as usual for the kind: %s\n", key)
		}
		if fit, err := p.Label.LabelFit(); err == nil && fit.Times > 0 {
			fmt.Fprintf(s.stdout, "# %s\n", fit.Sentence())
		}
		for _, caution := range shop.Cautions(p.Label) {
			fmt.Fprintf(s.stdout, "# %s\n", caution)
		}
		return nil
	})
}
