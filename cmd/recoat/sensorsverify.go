package main

import (
	"errors"
	"fmt"
	"strings"
	"text/tabwriter"
	"time"

	"recoat/dashboards"
	"recoat/dashboards/backend"
	"recoat/internal/quantity"
	"recoat/internal/shop"
	"recoat/sensors"
)

type sensorsVerifyCommand struct {
	changeFlags
	Room    string   `help:"The room's id; the configured one if left out." placeholder:"ID"`
	Node    string   `help:"The node; the configured one if left out." placeholder:"NAME"`
	Channel string   `help:"What to check; without it, all are listed with their last check." placeholder:"relative-humidity"`
	Salt    []string `help:"A salt with the time the sensor was put in, and, if it is over, the time it was taken out; twice for two points." placeholder:"NaCl=TIME/TIME" sep:"none"`
	Ice     string   `help:"The time the probe was put in ice, and, if it is over, was taken out." placeholder:"TIME/TIME"`
	By      string   `help:"Who made the check; with it the check is kept once the readings are steady." placeholder:"NAME"`
}

// Run lists the sensors, or looks at a check and keeps it.
func (c *sensorsVerifyCommand) Run(s *session) (err error) {
	cfg, _, err := c.folder()
	if err != nil {
		return err
	}
	a, err := c.archive(s.ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, a.close()) }()
	checks := backend.Checks{Readings: a.readings, Journal: a.journal}
	if c.Channel == "" {
		return c.list(s, checks)
	}
	check, err := c.check(cfg, s.now())
	if err != nil {
		return usage{err}
	}
	if c.By != "" {
		kept, err := checks.Keep(c.tapped(s), check, s.now())
		if err != nil {
			return asked(err)
		}
		fmt.Fprintf(s.stdout, "%s  %s %s: × %.3f %+.2f, standard uncertainty %.2f, next due %s\n", kept.ID, kept.Node, kept.Measure, kept.Gain, kept.Offset, kept.Sigma, onClock(kept.Due))
		return nil
	}
	state, err := checks.Look(s.ctx, check, s.now())
	if err != nil {
		return asked(err)
	}
	return c.print(s, state)
}

// check is what the flags say.
func (c *sensorsVerifyCommand) check(cfg config, now time.Time) (dashboards.Check, error) {
	channel, err := sensors.ParseChannel(c.Channel)
	if err != nil {
		return dashboards.Check{}, err
	}
	k := dashboards.Check{Room: c.Room, Node: c.Node, Channel: channel, Who: c.By, Due: now.AddDate(1, 0, 0)}
	if k.Room == "" {
		k.Room = cfg.Room.ID
	}
	if k.Node == "" {
		k.Node = cfg.Room.Node
	}
	salts := channel.Quantity == sensors.AirHumidity
	switch {
	case salts && (len(c.Salt) < 1 || len(c.Salt) > 2 || c.Ice != ""):
		return k, errors.New("humidity is checked with --salt, once or twice")
	case !salts && (c.Ice == "" || len(c.Salt) > 0):
		return k, errors.New("a temperature is checked with --ice")
	}
	for _, text := range append(c.Salt, c.Ice) {
		if text == "" {
			continue
		}
		p, err := point(text, salts)
		if err != nil {
			return k, err
		}
		k.Points = append(k.Points, p)
	}
	return k, nil
}

// point reads "NaCl=TIME/TIME", or "TIME/TIME" for ice.
func point(text string, salt bool) (dashboards.CheckPoint, error) {
	var p dashboards.CheckPoint
	if salt {
		name, rest, found := strings.Cut(text, "=")
		if !found {
			return p, fmt.Errorf("--salt %q: write the salt and the time it began, such as NaCl=2031-05-04T10:00:00+02:00", text)
		}
		p.Salt, text = name, rest
	}
	from, to, over := strings.Cut(text, "/")
	var err error
	if p.From, err = quantity.ParseTime(from, time.Local); err == nil && over {
		p.To, err = quantity.ParseTime(to, time.Local)
	}
	return p, err
}

func (c *sensorsVerifyCommand) print(s *session, state dashboards.CheckState) error {
	if c.JSON {
		return writeJSON(s.stdout, checkJSON(state))
	}
	for _, p := range state.Points {
		name := p.Salt
		if name == "" {
			name = "ice"
		}
		fmt.Fprintf(s.stdout, "%s: reads %.2f, should read %.2f (%d readings)", name, p.Mean, p.Truth, p.Points)
		if p.Steady {
			fmt.Fprintln(s.stdout, ", at rest")
		} else {
			fmt.Fprintf(s.stdout, "; wait: %s, at least %.0f minutes more\n", p.Why, p.Left.Minutes())
		}
	}
	if state.Why != "" {
		return errors.New(state.Why)
	}
	if f := state.Fit; f != nil {
		fmt.Fprintf(s.stdout, "It would be corrected by × %.3f %+.2f, standard uncertainty %.2f. With --by NAME that is kept, from now on.\n", f.Gain, f.Offset, f.Sigma)
	}
	return nil
}

// pointReport is one point of a check for machines; values are in the unit of
// the channel.
type pointReport struct {
	Salt   string    `json:"salt,omitempty"`
	Began  time.Time `json:"began_at"`
	Reads  *float64  `json:"reads"`
	Truth  *float64  `json:"should_read"`
	AirC   *float64  `json:"air_c"`
	Steady bool      `json:"at_rest"`
	Wait   string    `json:"wait,omitempty"`
	Left   *float64  `json:"left_min"`
}

type checkReport struct {
	Points []pointReport `json:"points"`
	Gain   *float64      `json:"gain"` // null until all points are at rest
	Offset *float64      `json:"offset"`
	Sigma  *float64      `json:"standard_uncertainty"`
	Why    string        `json:"why,omitempty"`
}

func checkJSON(state dashboards.CheckState) checkReport {
	r := checkReport{Points: []pointReport{}, Why: state.Why}
	for _, p := range state.Points {
		r.Points = append(r.Points, pointReport{p.Salt, p.From, places(p.Mean, 3), places(p.Truth, 3), places(float64(p.Warmth), 2), p.Steady, p.Why, minutes(p.Left)})
	}
	if f := state.Fit; f != nil {
		r.Gain, r.Offset, r.Sigma = places(f.Gain, 4), places(f.Offset, 3), places(f.Sigma, 3)
	}
	return r
}

// sensorReport is one channel with its last check.
type sensorReport struct {
	Room    string            `json:"room"`
	Node    string            `json:"node"`
	Channel string            `json:"channel"`
	Check   *shop.Calibration `json:"check"` // null: never
}

func sensorJSON(x dashboards.Sensor) sensorReport {
	return sensorReport{x.Room, x.Node, x.Channel.String(), x.Check}
}

func (c *sensorsVerifyCommand) list(s *session, checks backend.Checks) error {
	all, err := checks.Sensors(s.ctx)
	if err != nil {
		return err
	}
	if c.JSON {
		return writeJSON(s.stdout, each(all, sensorJSON))
	}
	w := tabwriter.NewWriter(s.stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "room\tnode\tchannel\tlast check\tcorrected by\tuncertainty\tnext due")
	for _, x := range all {
		line := "never\t\tas usual\t"
		if k := x.Check; k != nil {
			due := onClock(k.Due)
			if s.now().After(k.Due) {
				due += ", OVERDUE"
			}
			line = fmt.Sprintf("%s %s\t× %.3f %+.2f\t%.2f\t%s", onClock(k.From), k.Method, k.Gain, k.Offset, k.Sigma, due)
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", x.Room, x.Node, x.Channel, line)
	}
	return w.Flush()
}
