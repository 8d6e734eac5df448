package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"recoat/internal/alert"
	"recoat/internal/doctor"
)

// lookAtPhone looks at every way to the phone. It sends something only where it
// is asked to.
func lookAtPhone(ctx context.Context, cfg config, send bool) []doctor.Finding {
	outbox, err := existingOutbox(ctx, cfg)
	if err != nil {
		return []doctor.Finding{{Subject: "phone", State: doctor.NotOK, Detail: err.Error(), Do: "keep the file aside and start anew, or restore a backup"}}
	}
	if outbox != nil {
		defer func() { _ = outbox.Close() }() // nothing was written that could be lost
	}
	w, err := cfg.Alerts.open(folder(cfg.Data.Folder), outbox)
	if err != nil {
		return []doctor.Finding{{Subject: "phone", State: doctor.NotOK, Detail: err.Error(), Do: "mend [alerts] in the configuration"}}
	}
	all := w.all()
	switch {
	case len(all) == 0:
		return append([]doctor.Finding{{Subject: "phone", State: doctor.NotThere, Detail: "no channel is configured: nothing reaches a phone", Do: "name one under [alerts]; deploy/recoat.toml says how"}}, lookAtHeartbeat(ctx, cfg, send)...)
	case !send:
		return append([]doctor.Finding{{Subject: "phone", State: doctor.OK, Detail: strings.Join(names(all), ", ") + " configured (nothing was sent: recoat doctor --send tries each)"}}, lookAtHeartbeat(ctx, cfg, send)...)
	}
	var found []doctor.Finding
	for _, c := range all {
		found = append(found, tried("phone: "+c.Name(), alert.TryChannel(ctx, c, time.Now), "look whether it has reached you"))
	}
	return append(found, lookAtHeartbeat(ctx, cfg, send)...)
}

// tried is what came of a test.
func tried(subject string, t alert.Trial, look string) doctor.Finding {
	if t.Failed != "" {
		return doctor.Finding{Subject: subject, State: doctor.NotOK, Detail: t.Failed, Do: "check the address and its secret under [alerts], and that this machine reaches it"}
	}
	return doctor.Finding{Subject: subject, State: doctor.OK, Detail: fmt.Sprintf("taken after %.1f s", t.Took.Seconds()), Do: look}
}

func lookAtHeartbeat(ctx context.Context, cfg config, send bool) []doctor.Finding {
	address, err := cfg.Alerts.Heartbeat.address()
	if err == nil && address == "" {
		return nil
	}
	var beat *alert.Heartbeat
	if err == nil {
		beat, err = alert.NewHeartbeat(alert.HeartbeatConfig{
			URL: address, Every: time.Duration(cfg.Alerts.Heartbeat.Every), Now: time.Now,
			Alive: func(context.Context) error { return nil },
		})
	}
	switch {
	case err != nil:
		return []doctor.Finding{{Subject: "heartbeat", State: doctor.NotOK, Detail: err.Error(), Do: "mend [alerts.heartbeat] in the configuration"}}
	case !send:
		return []doctor.Finding{{Subject: "heartbeat", State: doctor.OK, Detail: "configured (nothing was sent)"}}
	}
	return []doctor.Finding{tried("heartbeat", beat.Beat(ctx), "")}
}

// existingOutbox opens the outbox if there is one: Web Push keeps there whom it
// reaches.
func existingOutbox(ctx context.Context, cfg config) (*alert.Outbox, error) {
	path := folder(cfg.Data.Folder).outbox()
	if _, err := os.Stat(path); cfg.Alerts.Push.Contact == "" || errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	return alert.OpenOutbox(ctx, path)
}
