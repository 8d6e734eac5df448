package main

import (
	"fmt"
	"strings"
	"text/tabwriter"
	"time"

	"recoat/drying"
	"recoat/internal/quantity"
	"recoat/internal/shop"
	"recoat/sensors"
)

type stagesCommand struct {
	Product string           `required:"" help:"Product file." type:"path" placeholder:"FILE"`
	Air     temperatureFlag  `required:"" help:"Air temperature, such as 12C or 54F." placeholder:"12C"`
	RH      humidityFlag     `required:"" name:"rh" help:"Relative humidity in per cent." placeholder:"75"`
	Surface *temperatureFlag `help:"Temperature of the surface; the air's if left out." placeholder:"11C"`
	Airflow speedFlag        `help:"Air speed over the coat; still room air if left out." placeholder:"0.1m/s"`
	Film    filmFlag         `help:"Wet film; the label's if left out." placeholder:"100um"`
	JSON    bool             `name:"json" help:"Write JSON."`
}

type stagesReport struct {
	Product string         `json:"product"`
	Family  drying.Family  `json:"family"`
	Pace    *float64       `json:"pace"` // towards dry-to-recoat
	Verdict drying.Verdict `json:"verdict"`
	Stages  []stageReport  `json:"stages"`
	Assumed []string       `json:"assumed"`
}

type stageReport struct {
	Stage    drying.Stage    `json:"stage"`
	Stated   *float64        `json:"stated_min"`
	Assumed  bool            `json:"assumed"`
	Expected *float64        `json:"expected_min"`
	Low      *float64        `json:"low_min"`
	High     *float64        `json:"high_min"`
	Blocked  []drying.Reason `json:"blocked"`
}

// Run writes how long each stage takes.
func (c *stagesCommand) Run(s *session) error {
	product, err := shop.LoadProductFile(c.Product)
	if err != nil {
		return err
	}
	conditions := c.conditions()
	if err := conditions.Check(); err != nil {
		return usage{err}
	}
	verdict := product.Judge(conditions, drying.TypicalUncertainty())
	expected := product.Expect(conditions, drying.Microns(c.Film))
	if c.JSON {
		return writeJSON(s.stdout, report(product, verdict, expected))
	}
	return c.print(s, product, verdict, expected)
}

func (c *stagesCommand) conditions() drying.Conditions {
	d := drying.Conditions{
		Air: sensors.Celsius(c.Air), Humidity: sensors.RelativeHumidity(c.RH),
		Surface: sensors.Celsius(c.Air), AirSpeed: sensors.MetresPerSecond(c.Airflow),
	}
	if c.Surface != nil {
		d.Surface, d.SurfaceMeasured = sensors.Celsius(*c.Surface), true
	}
	return d
}

func report(p drying.Product, v drying.Verdict, expected []drying.Expectation) stagesReport {
	r := stagesReport{Product: p.Name, Family: p.Family, Verdict: v, Assumed: append([]string{}, p.Assumed...)}
	for _, e := range expected {
		if e.Stage == drying.DryToRecoat {
			r.Pace = places(e.Pace, 4)
		}
		r.Stages = append(r.Stages, stageReport{
			Stage: e.Stage, Stated: minutes(e.Stated), Assumed: e.Assumed,
			Expected: minutes(e.Expected), Low: minutes(e.Low), High: minutes(e.High),
			Blocked: append([]drying.Reason{}, e.Blocked...),
		})
	}
	return r
}

func (c *stagesCommand) print(s *session, p drying.Product, v drying.Verdict, expected []drying.Expectation) error {
	fmt.Fprintf(s.stdout, "%s (%s)\n", p.Name, p.Family)
	printVerdict(s, v)
	w := tabwriter.NewWriter(s.stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "stage\tlabel\there\teight times in ten")
	for _, e := range expected {
		label := span(e.Stated)
		if e.Assumed {
			label += " (assumed)"
		}
		if e.Expected == 0 {
			fmt.Fprintf(w, "%s\t%s\tno time\t%s\n", e.Stage, label, texts(e.Blocked))
			continue
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s to %s\n", e.Stage, label, span(e.Expected), span(e.Low), span(e.High))
	}
	if err := w.Flush(); err != nil {
		return err
	}
	fmt.Fprintln(s.stdout, safety)
	for _, caution := range shop.Cautions(p) {
		fmt.Fprintln(s.stdout, caution)
	}
	return nil
}

// verdictWords are how the states are told.
var verdictWords = map[drying.State]string{
	drying.Fit: "Fit to coat", drying.Caution: "Coat with caution", drying.Unfit: "Not fit to coat", drying.Unknown: "Cannot be said",
}

func printVerdict(s *session, v drying.Verdict) {
	fmt.Fprintf(s.stdout, "%s. %s.\n", verdictWords[v.State], texts(v.Reasons))
}

func texts(reasons []drying.Reason) string {
	all := make([]string, len(reasons))
	for i, r := range reasons {
		all[i] = r.Text
	}
	return strings.Join(all, "; ")
}

// span shows a duration as a label would, to the hour where it is days.
func span(d time.Duration) string {
	const days = 48 * time.Hour
	if d >= days {
		return quantity.FormatDuration(d.Round(time.Hour))
	}
	return quantity.FormatDuration(d.Round(time.Minute))
}
