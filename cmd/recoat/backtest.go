package main

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"text/tabwriter"
	"time"

	"recoat/drying/forecast"
	"recoat/internal/recording"
	"recoat/internal/shop"
)

type backtestCommand struct {
	JSON      bool          `name:"json" help:"Write JSON."`
	Forecasts string        `help:"Write every forecast that was scored to this CSV." type:"path" placeholder:"FILE"`
	Ready     string        `help:"Product file: score also when its coats were ready." type:"path" placeholder:"FILE"`
	Every     time.Duration `default:"30m" help:"Between forecasts: half an hour or a multiple of it."`
	Seed      uint64        `default:"1" help:"Of what is drawn by chance."`
	Readings  string        `arg:"" help:"Recorded readings: CSV with time,air_c,rh_pct and, where known, surface_c." type:"path"`
}

type backtestReport struct {
	From     time.Time        `json:"from"`
	To       time.Time        `json:"to"`
	Issues   int              `json:"issues"`
	Horizons []horizonReport  `json:"horizons"`
	Ready    *scoreReport     `json:"ready,omitempty"` // every horizon together
	Record   recording.Report `json:"record"`
}

// horizonReport's pinball losses are in kelvins, and for ready times in hours.
type horizonReport struct {
	Horizon  float64      `json:"horizon_h"`
	Air      scoreReport  `json:"air"`
	DewPoint scoreReport  `json:"dew_point"`
	Surface  *scoreReport `json:"surface,omitempty"`
	Ready    *scoreReport `json:"ready,omitempty"`
}

type scoreReport struct {
	Count             int      `json:"count"`
	Pinball           *float64 `json:"pinball"`
	Coverage          *float64 `json:"coverage_80"`
	CoverageError     *float64 `json:"coverage_80_standard_error"`
	Blocks            int      `json:"blocks"`
	LastValue         *float64 `json:"last_value_pinball"`
	LastValueCoverage *float64 `json:"last_value_coverage_80"`
	Yesterday         *float64 `json:"same_time_yesterday_pinball"`
	YesterdayCoverage *float64 `json:"same_time_yesterday_coverage_80"`
	Ratio             *float64 `json:"ratio_to_better_naive"`
}

// Run scores the forecast on a record.
func (c *backtestCommand) Run(s *session) (err error) {
	samples, record, err := recording.ReadFile(c.Readings, time.Local)
	if err != nil {
		return err
	}
	for _, p := range record.Problems {
		fmt.Fprintf(s.stderr, "recoat: %s: %s: row left out\n", c.Readings, p)
	}
	test := forecast.Backtest{Every: c.Every, Seed: c.Seed, Progress: counted(progress(s.stderr, "Forecasting"))}
	if c.Ready != "" {
		product, err := shop.LoadProductFile(c.Ready)
		if err != nil {
			return err
		}
		test.Product = &product
	}
	if c.Forecasts != "" {
		out, err := newForecastsFile(c.Forecasts)
		if err != nil {
			return err
		}
		test.Each = out.write
		defer func() { err = errors.Join(err, out.close()) }()
	}
	r, err := test.Run(s.ctx, samples)
	if err != nil {
		return fmt.Errorf("%s: %w", c.Readings, err)
	}
	if c.JSON {
		return writeJSON(s.stdout, newBacktestReport(r, record))
	}
	return printBacktest(s.stdout, r)
}

// forecastsFile writes forecasts as they are made.
type forecastsFile struct {
	file *os.File
	csv  *csv.Writer
}

func newForecastsFile(path string) (*forecastsFile, error) {
	f, err := os.Create(path)
	if err != nil {
		return nil, fmt.Errorf("write the forecasts: %w", err)
	}
	out := &forecastsFile{f, csv.NewWriter(f)}
	out.row("issued_at", "target_at", "quantity", "p10", "p50", "p90", "observed")
	return out, nil
}

// row leaves its error to close, as csv.Writer keeps it.
func (f *forecastsFile) row(cells ...string) { _ = f.csv.Write(cells) }

func (f *forecastsFile) write(i forecast.Issued) {
	number := func(v float64) string { return strconv.FormatFloat(v, 'f', 4, 64) }
	f.row(i.IssuedAt.UTC().Format(time.RFC3339), i.TargetAt.UTC().Format(time.RFC3339), i.Quantity,
		number(i.Low), number(i.Median), number(i.High), number(i.Observed))
}

func (f *forecastsFile) close() error {
	f.csv.Flush()
	if err := errors.Join(f.csv.Error(), f.file.Close()); err != nil {
		return fmt.Errorf("write the forecasts: %w", err)
	}
	return nil
}

func newBacktestReport(r forecast.Report, record recording.Report) backtestReport {
	out := backtestReport{From: r.From, To: r.To, Issues: r.Issues, Ready: maybeScore(r.Ready), Record: record}
	for _, l := range r.Leads {
		h := horizonReport{
			Horizon: l.Lead.Hours(), Air: newScoreReport(l.Air), DewPoint: newScoreReport(l.DewPoint), Ready: maybeScore(l.Ready),
		}
		if r.Surface {
			h.Surface = maybeScore(&l.Surface)
		}
		out.Horizons = append(out.Horizons, h)
	}
	return out
}

func maybeScore(s *forecast.Score) *scoreReport {
	if s == nil {
		return nil
	}
	r := newScoreReport(*s)
	return &r
}

func newScoreReport(s forecast.Score) scoreReport {
	return scoreReport{
		Count:   s.Count,
		Pinball: places(s.Forecast.Pinball, 4), Coverage: places(s.Forecast.Coverage, 4),
		CoverageError: places(s.CoverageError, 4), Blocks: s.Blocks,
		LastValue: places(s.LastValue.Pinball, 4), LastValueCoverage: places(s.LastValue.Coverage, 4),
		Yesterday: places(s.Yesterday.Pinball, 4), YesterdayCoverage: places(s.Yesterday.Coverage, 4),
		Ratio: places(s.Ratio(), 4),
	}
}

// held is the coverage with its standard error, where there is one.
func held(s forecast.Score) string {
	if s.Blocks < 2 {
		return fmt.Sprintf("%.1f %%", 100*s.Forecast.Coverage)
	}
	return fmt.Sprintf("%.1f ± %.1f %%", 100*s.Forecast.Coverage, 100*s.CoverageError)
}

func printBacktest(w io.Writer, r forecast.Report) error {
	fmt.Fprintf(w, "%d forecasts, %s to %s\n", r.Issues, clock(r.From), clock(r.To))
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "ahead\tof\tloss\tlast value\tday before\tratio\t80 % interval held\tblocks of days")
	line := func(lead, of, unit string, s forecast.Score) {
		if s.Count == 0 {
			fmt.Fprintf(t, "%s\t%s\tnone to score\n", lead, of)
			return
		}
		fmt.Fprintf(t, "%s\t%s\t%.3f %s\t%.3f\t%.3f\t%.3f\t%s\t%d\n", lead, of,
			s.Forecast.Pinball, unit, s.LastValue.Pinball, s.Yesterday.Pinball, s.Ratio(), held(s), s.Blocks)
	}
	for _, l := range r.Leads {
		lead := span(l.Lead)
		line(lead, "air", "K", l.Air)
		line(lead, "dew point", "K", l.DewPoint)
		if r.Surface {
			line(lead, "surface", "K", l.Surface)
		}
		if l.Ready != nil {
			line(lead, "ready", "h", *l.Ready)
		}
	}
	if r.Ready != nil {
		line("2h to 48h", "ready", "h", *r.Ready)
	}
	return t.Flush()
}
