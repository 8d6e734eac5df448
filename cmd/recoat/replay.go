package main

import (
	"fmt"
	"text/tabwriter"
	"time"

	"recoat/drying"
	"recoat/internal/recording"
	"recoat/internal/room"
	"recoat/internal/shop"
)

type replayCommand struct {
	Product  string   `required:"" help:"Product file." type:"path" placeholder:"FILE"`
	Applied  timeFlag `required:"" help:"When the coat went on: RFC 3339, or local 2006-01-02 15:04." placeholder:"TIME"`
	Film     filmFlag `help:"Wet film; the label's if left out." placeholder:"100um"`
	Messages bool     `name:"alerts" help:"Show the messages that it would have sent, by the rules and quiet hours as they are set now."`
	Config   string   `help:"Configuration file with the quiet hours for --alerts." type:"path" placeholder:"FILE"`
	JSON     bool     `name:"json" help:"Write JSON."`
	Readings string   `arg:"" help:"Recorded readings: CSV with time,air_c,rh_pct and, where known, surface_c,pressure_hpa,air_speed_m_s." type:"path"`
}

type replayReport struct {
	Product      string           `json:"product"`
	Family       drying.Family    `json:"family"`
	Applied      time.Time        `json:"applied_at"`
	Stages       []replayStage    `json:"stages"`
	RecoatBy     *time.Time       `json:"recoat_by_at"`
	Alerts       []replayAlert    `json:"alerts"`
	Messages     *[]replayMessage `json:"messages,omitempty"` // with --alerts
	MinDewMargin *float64         `json:"min_dew_margin_c"`
	MinDewAt     *time.Time       `json:"min_dew_margin_at"`
	Outside      []outsideReport  `json:"outside_limits"`
	Happened     []happenedReport `json:"happened"` // to the fresh coat, until it was dry to recoat
	Covered      *float64         `json:"covered_min"`
	Uncovered    *float64         `json:"uncovered_min"`
	Assumed      []string         `json:"assumed"`
	Record       recording.Report `json:"record"`
}

type replayStage struct {
	Stage   drying.Stage    `json:"stage"`
	Stated  *float64        `json:"stated_min"`
	Assumed bool            `json:"assumed"`
	Reached bool            `json:"reached"` // within the record; else the times are a projection
	Ready   *time.Time      `json:"ready_at"`
	Low     *time.Time      `json:"low_at"`
	High    *time.Time      `json:"high_at"`
	Blocked []drying.Reason `json:"blocked"`
}

type replayAlert struct {
	At       time.Time `json:"at"`
	Rule     string    `json:"rule"`
	Cause    string    `json:"cause"`
	Severity string    `json:"severity"`
	Title    string    `json:"title"`
	Body     string    `json:"body"`
}

type happenedReport struct {
	Code  string        `json:"code"` // blush, condensation, film-cold, stalled
	From  *time.Time    `json:"from_at"`
	To    *time.Time    `json:"to_at"`
	Worst drying.Reason `json:"worst"`
}

type outsideReport struct {
	Code    string   `json:"code"`
	Limit   float64  `json:"limit"`
	Unit    string   `json:"unit"`
	Minutes *float64 `json:"outside_min"`
}

// Run plays the record.
func (c *replayCommand) Run(s *session) error {
	product, err := shop.LoadProductFile(c.Product)
	if err != nil {
		return err
	}
	samples, record, err := recording.ReadFile(c.Readings, time.Local)
	if err != nil {
		return err
	}
	applied := time.Time(c.Applied)
	if err := room.CheckReplay(samples, applied); err != nil {
		return usage{fmt.Errorf("%s: %w", c.Readings, err)}
	}
	for _, p := range record.Problems {
		fmt.Fprintf(s.stderr, "recoat: %s: %s: row left out\n", c.Readings, p)
	}
	job := room.Job{ID: "coat", Piece: product.Name, Product: product, Applied: applied, Film: drying.Microns(c.Film)}
	cfg, err := loadConfig(c.Config)
	if err != nil {
		return err
	}
	played := room.ReplayWatched(room.Config{
		Room: "record", Title: "Recorded room", Location: applied.Location(), Fahrenheit: cfg.Pages.Units.fahrenheit(),
	}, job, samples, counted(progress(s.stderr, "Replaying")))
	return c.show(s, cfg, product, played, record)
}

func (c *replayCommand) show(s *session, cfg config, p drying.Product, played room.Replayed, record recording.Report) error {
	messages, err := c.messages(cfg, played)
	if err != nil {
		return err
	}
	if c.JSON {
		report := c.report(p, played, record)
		if c.Messages {
			report.Messages = &messages
		}
		return writeJSON(s.stdout, report)
	}
	if err := c.print(s, p, played, record); err != nil || !c.Messages {
		return err
	}
	printMessages(s.stdout, messages)
	return nil
}

func (c *replayCommand) report(p drying.Product, played room.Replayed, record recording.Report) replayReport {
	e := played.Exposure
	r := replayReport{
		Product: p.Name, Family: p.Family, Applied: time.Time(c.Applied), RecoatBy: instant(played.RecoatBy),
		Alerts: []replayAlert{}, Outside: []outsideReport{}, Happened: []happenedReport{}, Assumed: append([]string{}, p.Assumed...),
		MinDewMargin: places(float64(e.MinDewMargin), 2), MinDewAt: instant(e.MinDewMarginAt),
		Covered: places(e.Covered.Minutes(), 1), Uncovered: places((e.To.Sub(e.From) - e.Covered).Minutes(), 1), Record: record,
	}
	for _, e := range played.Estimates {
		r.Stages = append(r.Stages, replayStage{
			Stage: e.Stage, Stated: minutes(e.Stated), Assumed: e.Assumed, Reached: e.Reached,
			Ready: instant(e.Likely), Low: instant(e.Low), High: instant(e.High),
			Blocked: append([]drying.Reason{}, e.Blocked...),
		})
	}
	for _, t := range played.Told {
		r.Alerts = append(r.Alerts, replayAlert{
			At: t.At, Rule: t.Episode.Key.Rule, Cause: t.Cause.String(), Severity: t.Episode.Severity.String(),
			Title: t.Title, Body: t.Body,
		})
	}
	for _, o := range e.Outside {
		r.Outside = append(r.Outside, outsideReport{o.Code, o.Limit, o.Unit, places(o.Duration.Minutes(), 1)})
	}
	for _, f := range played.Findings {
		r.Happened = append(r.Happened, happenedReport{f.Code, instant(f.From), instant(f.To), f.Worst})
	}
	return r
}

// instant is a time to the second, null where there is none.
func instant(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	t = t.Round(time.Second)
	return &t
}

func (c *replayCommand) print(s *session, p drying.Product, played room.Replayed, record recording.Report) error {
	applied := time.Time(c.Applied)
	fmt.Fprintf(s.stdout, "%s (%s), put on %s\n", p.Name, p.Family, clock(applied))
	w := tabwriter.NewWriter(s.stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "stage\tlabel\treached\teight times in ten")
	for _, e := range played.Estimates {
		label := span(e.Stated)
		if e.Assumed {
			label += " (assumed)"
		}
		switch {
		case e.Likely.IsZero():
			fmt.Fprintf(w, "%s\t%s\tno time\t%s\n", e.Stage, label, texts(e.Blocked))
		case e.Reached:
			fmt.Fprintf(w, "%s\t%s\t%s\t%s to %s\n", e.Stage, label, clock(e.Likely), clock(e.Low), clock(e.High))
		default:
			fmt.Fprintf(w, "%s\t%s\t%s, projected\t%s to %s\n", e.Stage, label, clock(e.Likely), clock(e.Low), clock(e.High))
		}
	}
	if err := w.Flush(); err != nil {
		return err
	}
	e := played.Exposure
	if !e.MinDewMarginAt.IsZero() {
		fmt.Fprintf(s.stdout, "Least dew margin %.1f K, %s\n", e.MinDewMargin, clock(e.MinDewMarginAt))
	}
	for _, o := range e.Outside {
		if o.Duration > 0 {
			fmt.Fprintf(s.stdout, "Outside the limit %s for %s\n", o.Code, span(o.Duration))
		}
	}
	for _, f := range played.Findings {
		fmt.Fprintf(s.stdout, "%s to %s, %s: %s\n", clock(f.From), clock(f.To), f.Code, f.Worst.Text)
	}
	if gap := e.To.Sub(e.From) - e.Covered; gap > 0 {
		fmt.Fprintf(s.stdout, "Nothing known for %s\n", span(gap))
	}
	fmt.Fprintf(s.stdout, "%d rows read, %d bad, %d doubled, %d out of order\n", record.Rows, record.Bad, record.Doubled, record.OutOfOrder)
	for _, t := range played.Told {
		fmt.Fprintf(s.stdout, "Told %s: %s\n", clock(t.At), t.Title)
	}
	fmt.Fprintln(s.stdout, safety)
	return nil
}

// clock shows an instant for a person.
func clock(t time.Time) string { return t.Format("Mon 2 Jan 15:04") }
