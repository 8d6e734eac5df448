package main

import (
	"fmt"
	"log/slog"
	"path/filepath"
	"time"

	"github.com/google/uuid"

	"recoat/internal/agent"
	"recoat/internal/telemetry"
	"recoat/sensors/poll"
	"recoat/sensors/wiring"
)

type agentCommand struct {
	Config string `help:"Configuration file." type:"path" placeholder:"FILE"`
}

// Run reads this machine's sensors and sends what they say to the broker.
func (c *agentCommand) Run(s *session) (err error) {
	cfg, link, err := loadHalf(c.Config, "an agent by itself reaches its hub through a broker", false)
	if err != nil {
		return err
	}
	s.level.Set(cfg.Log.Level.Level)
	p := &parts{}
	defer p.closeInto(&err)
	real := cfg.Sensors.real()
	real.Wait = true // its chips may be plugged in when it runs already
	found, err := wiring.Find(real)
	if err != nil {
		return err
	}
	p.onClose(found.Close)
	log := logTo(s)
	warnOf(log, found)
	f, release, err := openFolder(filepath.Join(cfg.Data.Folder, "agent"))
	if err != nil {
		return err
	}
	p.onClose(release)
	if err := mend(s.ctx, f.keeper(), func(what string) { log.Error(what) }); err != nil {
		return err
	}
	sampler, err := realAgent(cfg, found, f, link, s)
	if err != nil {
		return err
	}
	a, err := agent.Open(s.ctx, sampler)
	if err != nil {
		return err
	}
	p.onClose(a.Close)
	p.add("agent", a.Run)
	p.addDisplay(cfg, link, log)
	p.watch(log, nil, a.Status, agentVitals(a, time.Duration(cfg.Sensors.Every))...)
	log.Info("sampling", "sources", len(found.Guards()), "every", time.Duration(cfg.Sensors.Every))
	return p.run(s.ctx)
}

// warnOf logs what cannot be used beside the sensors that can.
func warnOf(log *slog.Logger, found wiring.Sensors) {
	for _, err := range found.Failures {
		log.Warn("going on without what cannot be used; recoat doctor says what to do", "err", err)
	}
}

// realAgent is the configuration of an agent that reads real sensors.
func realAgent(cfg config, found wiring.Sensors, f folder, link telemetry.Link, s *session) (agent.Config, error) {
	log := logTo(s)
	judge, err := newJudge(cfg.Sensors, found, f.twins(), log)
	return agent.Config{
		Room: cfg.Room.ID, Node: cfg.Room.Node,
		Boot:   agent.Boot(cfg.Sensors.Root, uuid.NewString, log),
		Period: time.Duration(cfg.Sensors.Every), Clock: poll.SystemClock{},
		Buses: found.Buses, Judge: judge.check, Spool: f.spool(), Link: link, Log: log,
	}, err
}

// loadHalf reads the configuration of one half of recoat, which cannot do
// without a broker; why says so for a person.
func loadHalf(path, why string, maybeOwn bool) (config, telemetry.Link, error) {
	cfg, err := loadConfig(path)
	if err != nil {
		return cfg, telemetry.Link{}, err
	}
	link, err := cfg.Broker.link()
	if own := maybeOwn && cfg.Broker.Listen != ""; err == nil && link.URL == "" && !own {
		err = fmt.Errorf("broker.url: %s: name it, such as \"ssl://shop.example:8883\" (recoat up runs everything in one process)", why)
	}
	return cfg, link, err
}

// link says how to reach the configured broker; its URL is empty where none is.
func (b brokerConfig) link() (telemetry.Link, error) {
	password, err := b.password()
	if err != nil {
		return telemetry.Link{}, fmt.Errorf("configuration: %w", err)
	}
	trust, err := b.trust()
	if err != nil {
		return telemetry.Link{}, fmt.Errorf("configuration: %w", err)
	}
	return telemetry.Link{URL: b.URL, User: b.User, Password: password, TLS: trust}, nil
}
