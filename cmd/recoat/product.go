package main

import (
	"fmt"
	"text/tabwriter"
	"time"

	"recoat/drying"
	"recoat/internal/quantity"
	"recoat/internal/shop"
)

type productCommand struct {
	Add  productAddCommand  `cmd:"" help:"Take a product file into the journal; a changed label becomes a new version."`
	List productListCommand `cmd:"" help:"Every product, its newest version."`
	Show productShowCommand `cmd:"" help:"One product as its label states it, and what was assumed."`
}

type productAddCommand struct {
	journalFlags
	File string `arg:"" help:"Product file." type:"path"`
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
	return r
}

// Run takes a product file into the journal.
func (c *productAddCommand) Run(s *session) error {
	label, err := shop.LoadProductFile(c.File)
	if err != nil {
		return err
	}
	return c.with(s, func(_ config, j *shop.Journal) error {
		p, err := j.PutProduct(s.ctx, label, time.Now())
		if err != nil {
			return err
		}
		if c.JSON {
			return writeJSON(s.stdout, reportProduct(p))
		}
		fmt.Fprintf(s.stdout, "%s  %s, version %d\n", p.ID, p.Label.Name, p.Version)
		return nil
	})
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
		for _, caution := range shop.Cautions(p.Label) {
			fmt.Fprintf(s.stdout, "# %s\n", caution)
		}
		return nil
	})
}
