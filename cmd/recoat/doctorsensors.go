package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"recoat/internal/doctor"
	"recoat/sensors"
	"recoat/sensors/poll"
	"recoat/sensors/wiring"
)

// lookAtPlaces says who answers on the I²C bus. Where it cannot be opened, the
// look for sensors says why.
func lookAtPlaces(cfg config) []doctor.Finding {
	places, err := wiring.Places(cfg.Sensors.real())
	if err != nil {
		return nil
	}
	var all []doctor.Finding
	for _, p := range places {
		f := doctor.Finding{Subject: "address", State: doctor.OK, Detail: p.String()}
		if p.What == "" {
			f.State, f.Do = doctor.NotThere, "not one of the chips that are known: it is left alone"
		}
		all = append(all, f)
	}
	return all
}

// lookForSensors reads each sensor once.
func lookForSensors(ctx context.Context, cfg config) []doctor.Finding {
	found, err := wiring.Find(cfg.Sensors.real())
	if errors.Is(err, wiring.ErrNone) {
		return []doctor.Finding{{Subject: "sensors", State: doctor.NotThere, Detail: err.Error(), Do: "recoat up simulates a room where none was ever measured; firmware-config/README.md says how to wire a real one"}}
	}
	if err != nil {
		return []doctor.Finding{{Subject: "sensors", State: doctor.NotOK, Detail: err.Error(), Do: "mend that; recoat up --simulate does without"}}
	}
	defer func() { _ = found.Close() }()
	var all []doctor.Finding
	for _, err := range found.Failures {
		all = append(all, doctor.Finding{Subject: "sensors", State: doctor.NotOK, Detail: err.Error(), Do: "check its wiring, [sensors] in the configuration, and the rights to the bus (group i2c)"})
	}
	for _, g := range found.Guards() {
		readings := g.Read(ctx, time.Now())
		h := g.Health()
		if !h.OK {
			all = append(all, doctor.Finding{Subject: "sensor", State: doctor.NotOK, Detail: h.Source + ": " + h.Err, Do: "check its wires and its supply"})
			continue
		}
		all = append(all, doctor.Finding{Subject: "sensor", State: doctor.OK, Detail: h.Source + ": " + values(readings)})
	}
	return all
}

func values(readings []sensors.Reading) string {
	text := ""
	for _, r := range readings {
		if r.Quality == sensors.Missing {
			text += fmt.Sprintf(" %s missing", r.Channel)
			continue
		}
		text += fmt.Sprintf(" %s %.1f %s", r.Channel, r.Value, r.Channel.Quantity.Unit())
	}
	return text
}

func lookAtClock() doctor.Finding {
	now := poll.SystemClock{}.Now()
	detail := now.Wall.Format("Mon 2 Jan 2006 15:04:05 MST")
	if now.Set {
		return doctor.Finding{Subject: "clock", State: doctor.OK, Detail: detail + ", set from outside"}
	}
	return doctor.Finding{Subject: "clock", State: doctor.NotThere, Detail: detail + ", not known to be set", Do: "give the machine a network time service or a clock with a battery; until then readings are dated when the clock is set"}
}
