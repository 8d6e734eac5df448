package main

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"recoat/drying"
	"recoat/drying/forecast"
	"recoat/drying/plan"
	"recoat/internal/quantity"
	"recoat/internal/recording"
	"recoat/internal/shop"
	"recoat/sensors"
)

type planCommand struct {
	Product  []string        `required:"" help:"Product file, once for each coat, in order." type:"path" placeholder:"FILE"`
	Start    timeFlag        `required:"" help:"When the first coat would go on: RFC 3339, or local 2006-01-02 15:04." placeholder:"TIME"`
	History  string          `required:"" help:"Readings of the room so far: CSV with time,air_c,rh_pct and, where known, surface_c." type:"path" placeholder:"FILE"`
	Wait     []drying.Stage  `default:"dry-to-recoat" help:"Stages that a coat has to reach before the next." placeholder:"STAGE"`
	Sand     time.Duration   `help:"Sanding between coats; they then wait for sandable too." placeholder:"30m"`
	Hours    hoursFlag       `default:"7-21" help:"Working hours: what follows the first coat is done in them."`
	Deliver  *timeFlag       `help:"When the last coat has to be fit to handle." placeholder:"TIME"`
	RaiseAir *differenceFlag `help:"What if the air were so much warmer." placeholder:"4C"`
	HoldRH   *humidityFlag   `name:"hold-rh" help:"What if a dehumidifier held this humidity." placeholder:"45"`
	MoveAir  *speedFlag      `help:"What if the air moved over the coats." placeholder:"0.5m/s"`
	Film     *filmFlag       `help:"What if every wet film were this thick." placeholder:"80um"`
	Seed     uint64          `default:"1" help:"Of what is drawn by chance."`
	JSON     bool            `name:"json" help:"Write JSON."`
}

// planMembers is how many courses of the room are counted: the chance of a half
// is then known to within 4 in 100.
const planMembers = 200

// differenceFlag is a difference of temperatures with its unit.
type differenceFlag sensors.Kelvins

func (f *differenceFlag) UnmarshalText(text []byte) error {
	v, err := quantity.ParseDifference(string(text))
	*f = differenceFlag(v)
	return err
}

// hoursFlag is a pair of clock times, "7-21" or "7:30-20:00".
type hoursFlag struct{ from, to time.Duration }

func (f *hoursFlag) UnmarshalText(text []byte) error {
	from, to, ok := strings.Cut(string(text), "-")
	var wrong error
	if f.from, wrong = clockTime(from); ok && wrong == nil {
		f.to, wrong = clockTime(to)
	}
	if !ok || wrong != nil || f.from >= f.to {
		return fmt.Errorf("%s are no working hours: write 7-21 or 7:30-20:00", quantity.Quote(string(text)))
	}
	return nil
}

func clockTime(s string) (time.Duration, error) {
	s = strings.TrimSpace(s)
	if s == "24" || s == "24:00" {
		return 24 * time.Hour, nil
	}
	for _, layout := range []string{"15", "15:04"} {
		if t, err := time.Parse(layout, s); err == nil {
			return time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute, nil
		}
	}
	return 0, fmt.Errorf("%q is no clock time", s)
}

// planned is all that the command has to tell.
type planned struct {
	products []drying.Product
	record   recording.Report
	planner  *plan.Planner
	from     time.Time // of the forecast
	verdict  plan.Verdict
	nextGood time.Time // zero: none
	chain    plan.Chain
	delivery *plan.Delivery
	whatIfs  []plan.WhatIf
}

// Run plans the chain.
func (c *planCommand) Run(s *session) error {
	changes, err := c.changes()
	if err != nil {
		return usage{err}
	}
	if c.Deliver != nil && !time.Time(*c.Deliver).After(time.Time(c.Start)) {
		return usage{errors.New("--deliver is no later than --start: a time after it would do")}
	}
	var p planned
	for _, path := range c.Product {
		product, err := shop.LoadProductFile(path)
		if err != nil {
			return err
		}
		p.products = append(p.products, product)
	}
	samples, record, err := recording.ReadFile(c.History, time.Local)
	if err != nil {
		return err
	}
	for _, problem := range record.Problems {
		fmt.Fprintf(s.stderr, "recoat: %s: %s: row left out\n", c.History, problem)
	}
	p.record = record
	if err := c.plan(&p, samples, changes); err != nil {
		return err
	}
	if c.JSON {
		return writeJSON(s.stdout, c.report(&p))
	}
	return c.print(s, &p)
}

// changes are those that were asked for, one by one, and all of them together
// where they are several.
func (c *planCommand) changes() ([]plan.Change, error) {
	var all []plan.Change
	var together plan.Change
	add := func(flag string, given bool, v float64, set func(*plan.Change)) error {
		switch {
		case !given:
			return nil
		case !(v > 0):
			return fmt.Errorf("--%s is %v: above 0 would do", flag, v)
		}
		var one plan.Change
		set(&one)
		set(&together)
		all = append(all, one)
		if err := one.Check(); err != nil {
			return fmt.Errorf("--%s: %w", flag, err)
		}
		return nil
	}
	err := errors.Join(
		add("raise-air", c.RaiseAir != nil, value(c.RaiseAir), func(p *plan.Change) { p.RaiseAir = sensors.Kelvins(*c.RaiseAir) }),
		add("hold-rh", c.HoldRH != nil, value(c.HoldRH), func(p *plan.Change) { p.HoldHumidity = sensors.RelativeHumidity(*c.HoldRH) }),
		add("move-air", c.MoveAir != nil, value(c.MoveAir), func(p *plan.Change) { p.MoveAir = sensors.MetresPerSecond(*c.MoveAir) }),
		add("film", c.Film != nil, value(c.Film), func(p *plan.Change) { p.Film = drying.Microns(*c.Film) }),
	)
	if len(all) > 1 {
		all = append(all, together)
	}
	return all, err
}

func value[F ~float64](f *F) float64 {
	if f == nil {
		return 0
	}
	return float64(*f)
}

func (c *planCommand) plan(p *planned, samples []drying.Sample, changes []plan.Change) error {
	start := time.Time(c.Start)
	if start.Before(p.record.From) || start.After(p.record.To.Add(forecast.Horizon)) {
		return usage{fmt.Errorf("%s: the start is %s: between the record's begin, %s, and %v after its end, %s, would do", c.History,
			start.Format(time.RFC3339), p.record.From.Format(time.RFC3339), forecast.Horizon, p.record.To.Format(time.RFC3339))}
	}
	issued := p.record.To
	if start.Before(issued) {
		issued = start // what came after would not have been known
	}
	courses, err := forecast.New(samples).Issue(issued, forecast.Options{Members: planMembers, Seed: c.Seed})
	if err != nil {
		return fmt.Errorf("%s: %w", c.History, err)
	}
	ensemble, err := drying.NewEnsemble(courses.At, forecast.Step, courses.Courses())
	if err != nil {
		return err
	}
	p.from = courses.At
	if p.planner, err = plan.New(c.setup(ensemble, p.products)); err != nil {
		return usage{err}
	}
	p.verdict, p.chain = p.planner.Verdict(start), p.planner.Chain(start)
	p.nextGood, _ = p.planner.NextGood(start)
	if c.Deliver != nil {
		d := p.planner.LatestStart(start, time.Time(*c.Deliver))
		p.delivery = &d
	}
	for _, change := range changes {
		w, err := p.planner.WhatIf(change, p.chain)
		if err != nil {
			return err
		}
		p.whatIfs = append(p.whatIfs, w)
	}
	return nil
}

func (c *planCommand) setup(e plan.Ensemble, products []drying.Product) plan.Setup {
	s := plan.Setup{
		Ensemble: e, Finish: drying.Handle, Seed: c.Seed,
		Hours: plan.Hours{From: c.Hours.from, To: c.Hours.to, Location: time.Time(c.Start).Location()},
	}
	for _, p := range products {
		coat := plan.Coat{Product: p, Waits: c.Wait, Work: c.Sand}
		if c.Sand > 0 {
			coat.Waits = append([]drying.Stage{drying.Sandable}, c.Wait...)
		}
		s.Coats = append(s.Coats, coat)
	}
	return s
}
