package main

import (
	"fmt"
	"time"

	"recoat/sensors"
	"recoat/sensors/chip"
	"recoat/sensors/wiring"
)

type sensorsCommand struct {
	List sensorsListCommand `cmd:"" help:"What is wired to this machine."`
	Read sensorsReadCommand `cmd:"" help:"What each sensor says now."`
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
	var shown []answerJSON
	well := len(found.Failures) == 0
	for _, a := range found.Read(s.ctx, time.Now()) {
		shown = append(shown, showAnswer(a))
		well = well && a.Health.OK
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

func channelNames(list []sensors.Channel) []string {
	names := make([]string, len(list))
	for i, c := range list {
		names[i] = c.String()
	}
	return names
}

func showAnswer(a wiring.Answer) answerJSON {
	j := answerJSON{
		Sensor: a.Health.Source, OK: a.Health.OK, Error: a.Health.Err,
		Took: places(float64(a.Health.Took)/float64(time.Millisecond), 1),
	}
	for _, r := range a.Readings {
		shown := readingJSON{Channel: r.Channel.String(), Unit: r.Channel.Quantity.Unit(), Quality: r.Quality.String()}
		if r.Quality != sensors.Missing {
			shown.Value = places(r.Value, 3)
		}
		j.Readings = append(j.Readings, shown)
	}
	return j
}

func printAnswers(s *session, answers []answerJSON) {
	for _, a := range answers {
		if !a.OK {
			fmt.Fprintf(s.stdout, "%s: %s\n", a.Sensor, a.Error)
			continue
		}
		fmt.Fprintln(s.stdout, a.Sensor)
		for _, r := range a.Readings {
			if r.Value == nil {
				fmt.Fprintf(s.stdout, "    %-40s  missing\n", r.Channel)
				continue
			}
			fmt.Fprintf(s.stdout, "    %-40s  %10.2f %-4s  %s\n", r.Channel, *r.Value, r.Unit, r.Quality)
		}
	}
}
