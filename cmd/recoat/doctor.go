package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"recoat/internal/doctor"
)

type doctorCommand struct {
	Config string `help:"Configuration file." type:"path" placeholder:"FILE"`
	Send   bool   `help:"Send a test through every way to the phone, and say what came of it."`
	JSON   bool   `name:"json" help:"Write JSON."`
}

// errUnwell is the doctor's exit code; the findings have been written already.
var errUnwell = errors.New("something is not ok: see above")

// Run looks at everything this machine needs. It changes nothing; with Send it
// sends tests.
func (c *doctorCommand) Run(s *session) error {
	findings := c.examine(s.ctx)
	if c.JSON {
		if err := writeJSON(s.stdout, findings); err != nil {
			return err
		}
	} else {
		for _, f := range findings {
			fmt.Fprintf(s.stdout, "%-9s  %-13s  %s\n", f.State, f.Subject, f.Detail)
			if f.Do != "" {
				fmt.Fprintf(s.stdout, "%-9s  %-13s  → %s\n", "", "", f.Do)
			}
		}
	}
	for _, f := range findings {
		if f.State == doctor.NotOK {
			return errUnwell
		}
	}
	return nil
}

func (c *doctorCommand) examine(ctx context.Context) []doctor.Finding {
	cfg, err := loadConfig(c.Config)
	if err != nil {
		return []doctor.Finding{{Subject: "configuration", State: doctor.NotOK, Detail: err.Error(), Do: "mend the file; deploy/recoat.toml shows every key"}}
	}
	detail := "built-in settings"
	if c.Config != "" {
		detail = c.Config
	}
	all := []doctor.Finding{{Subject: "configuration", State: doctor.OK, Detail: detail}}
	all = append(all, doctor.Machine(cfg.Sensors.Root)...)
	all = append(all, lookAtClock())
	all = append(all, doctor.Buses(cfg.Sensors.Root, doctor.Myself())...)
	all = append(all, lookAtPlaces(cfg)...)
	all = append(all, lookForSensors(ctx, cfg)...)
	all = append(all, lookAtDisk(cfg), lookAtStore(ctx, cfg), lookAtBroker(ctx, cfg), lookAtHubs(ctx, cfg), lookAtHub(ctx, cfg, time.Now()), lookAtPages(ctx, cfg))
	return append(all, lookAtPhone(ctx, cfg, c.Send)...)
}
