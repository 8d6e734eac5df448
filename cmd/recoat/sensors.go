package main

import (
	"fmt"
	"time"

	"recoat/sensors"
	"recoat/sensors/chip"
	"recoat/sensors/wiring"
)

type sensorsCommand struct {
	List   sensorsListCommand   `cmd:"" help:"What is wired to this machine."`
	Read   sensorsReadCommand   `cmd:"" help:"What each sensor says now."`
	Verify sensorsVerifyCommand `cmd:"" help:"Check a sensor with salt or ice, and keep what that says."`
}

type sensorsListCommand struct {
	Config string `help:"Configuration file." type:"path" placeholder:"FILE"`
	JSON   bool   `name:"json" help:"Write JSON."`
}

type sensorsReadCommand struct {
	Config string `help:"Configuration file." type:"path" placeholder:"FILE"`
	JSON   bool   `name:"json" help:"Write JSON."`
}

// wiredJSON is one sensor of the list.
type wiredJSON struct {
	Sensor   string   `json:"sensor"`
	Channels []string `json:"channels"`
}

// answerJSON is what one sensor said.
type answerJSON struct {
	Sensor   string        `json:"sensor"`
	OK       bool          `json:"ok"`
	Error    string        `json:"error,omitempty"`
	Took     *float64      `json:"took_ms"`
	Readings []readingJSON `json:"readings"`
}

// readingJSON is one reading; a missing one has no value.
type readingJSON struct {
	Channel string   `json:"channel"`
	Value   *float64 `json:"value"`
	Unit    string   `json:"unit"` // of SenML
	Quality string   `json:"quality"`
	// LastGood is when it was last good: now, or what the store knows of a week.
	LastGood *time.Time `json:"last_good_at"`
}

// readJSON is what all sensors said.
type readJSON struct {
	Sensors []answerJSON `json:"sensors"`
	Twins   []twinJSON   `json:"twins"`
}

// real says where the configured sensors are.
func (c sensorsConfig) real() wiring.Real {
	cfg := wiring.Real{Root: c.Root, I2C: c.I2C, Mux: c.Mux, Bridge: c.Bridge, Emissivity: c.Emissivity}
	for _, t := range c.Thermistors {
		cfg.Thermistors = append(cfg.Thermistors, wiring.Thermistor{ADC: t.ADC, Thermistor: chip.Thermistor{
			Input: t.Input, Series: t.Series, Supply: t.Supply,
			Curve: chip.Curve{R25: t.R25, Beta: t.Beta, A: t.A, B: t.B, C: t.C},
		}})
	}
	return cfg
}

// Run lists the sensors. It measures nothing.
func (c *sensorsListCommand) Run(s *session) error {
	cfg, err := loadConfig(c.Config)
	if err != nil {
		return err
	}
	list, failures, err := wiring.List(cfg.Sensors.real())
	if err != nil {
		return err
	}
	shown := make([]wiredJSON, len(list))
	for i, w := range list {
		shown[i] = wiredJSON{Sensor: w.Name, Channels: channelNames(w.Channels)}
	}
	tellFailures(s, failures)
	if c.JSON {
		return writeJSON(s.stdout, shown)
	}
	for _, w := range shown {
		fmt.Fprintln(s.stdout, w.Sensor)
		for _, name := range w.Channels {
			fmt.Fprintln(s.stdout, "    "+name)
		}
	}
	return nil
}

// tellFailures says what cannot be used, beside what can.
func tellFailures(s *session, failures []error) {
	for _, err := range failures {
		fmt.Fprintf(s.stderr, "recoat: cannot be used: %v\n", err)
	}
}

// Run reads every sensor once. It fails if one of them does, or if something
// cannot be used, after it has shown the rest.
func (c *sensorsReadCommand) Run(s *session) error {
	cfg, err := loadConfig(c.Config)
	if err != nil {
		return err
	}
	found, err := wiring.Find(cfg.Sensors.real())
	if err != nil {
		return err
	}
	defer func() { _ = found.Close() }()
	now := time.Now()
	answers := found.Read(s.ctx, now)
	shown, well, err := c.show(s, cfg, found, answers, now)
	if err != nil {
		return err
	}
	tellFailures(s, found.Failures)
	if c.JSON {
		err = writeJSON(s.stdout, shown)
	} else {
		printAnswers(s, shown)
	}
	if err == nil && !well {
		err = errUnwell
	}
	return err
}

// show adds to what the sensors say now what is known of them, and whether all is
// well.
func (c *sensorsReadCommand) show(s *session, cfg config, found wiring.Sensors, answers []wiring.Answer, now time.Time) (shown readJSON, well bool, err error) {
	last, err := lastGood(s.ctx, cfg, now)
	if err != nil {
		return shown, false, err
	}
	known, err := readOffsets(agentFolder(cfg).twins())
	if err != nil {
		return shown, false, err
	}
	well = len(found.Failures) == 0
	for _, a := range answers {
		shown.Sensors = append(shown.Sensors, showAnswer(a, last, now))
		well = well && a.Health.OK
	}
	shown.Twins = twinsNow(found, answers, known)
	return shown, well, nil
}

func channelNames(list []sensors.Channel) []string {
	names := make([]string, len(list))
	for i, c := range list {
		names[i] = c.String()
	}
	return names
}

func showAnswer(a wiring.Answer, last map[sensors.Channel]time.Time, now time.Time) answerJSON {
	j := answerJSON{
		Sensor: a.Health.Source, OK: a.Health.OK, Error: a.Health.Err,
		Took: places(float64(a.Health.Took)/float64(time.Millisecond), 1),
	}
	for _, r := range a.Readings {
		shown := readingJSON{Channel: r.Channel.String(), Unit: r.Channel.Quantity.Unit(), Quality: r.Quality.String()}
		if r.Quality != sensors.Missing {
			shown.Value = places(r.Value, 3)
		}
		at, known := last[r.Channel]
		if r.Quality == sensors.Good {
			at, known = now, true
		}
		if known {
			shown.LastGood = &at
		}
		j.Readings = append(j.Readings, shown)
	}
	return j
}

func printAnswers(s *session, shown readJSON) {
	for _, a := range shown.Sensors {
		fmt.Fprintln(s.stdout, a.Sensor)
		if !a.OK {
			fmt.Fprintf(s.stdout, "    %s\n", a.Error)
		}
		for _, r := range a.Readings {
			printReading(s, r)
		}
	}
	for _, t := range shown.Twins {
		fmt.Fprintf(s.stdout, "%s and %s: %s\n", t.First, t.Second, t.words())
	}
}

func printReading(s *session, r readingJSON) {
	value, unit := "", ""
	if r.Value != nil {
		value, unit = fmt.Sprintf("%.2f", *r.Value), r.Unit
	}
	ago := ""
	switch {
	case r.Quality == sensors.Good.String():
	case r.LastGood == nil:
		ago = "  no good value is known"
	default:
		ago = "  last good " + r.LastGood.Local().Format("2 Jan 15:04")
	}
	fmt.Fprintf(s.stdout, "    %-40s  %10s %-4s  %s%s\n", r.Channel, value, unit, r.Quality, ago)
}

// words says how far two sensors are apart, and how far they were at first.
func (t twinJSON) words() string {
	now, first := "not known now", "not learnt yet (it takes a day)"
	if t.Apart != nil {
		now = fmt.Sprintf("%+.2f %s apart now", *t.Apart, t.Unit)
	}
	if t.Learnt != nil {
		first = fmt.Sprintf("%+.2f %s at first", *t.Learnt, t.Unit)
	}
	return now + ", " + first
}
