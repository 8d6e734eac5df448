package main

import (
	"errors"
	"fmt"
	"log/slog"
	"path/filepath"
	"time"

	"github.com/google/uuid"

	"recoat/internal/agent"
	"recoat/internal/telemetry"
	"recoat/sensors/plausible"
	"recoat/sensors/poll"
	"recoat/sensors/wiring"
)

type agentCommand struct {
	Config string `help:"Configuration file." type:"path" placeholder:"FILE"`
}

// Run reads this machine's sensors and sends what they say to the broker.
func (c *agentCommand) Run(s *session) (err error) {
	cfg, err := loadConfig(c.Config)
	if err != nil {
		return err
	}
	link, err := cfg.Broker.link()
	if err != nil {
		return err
	}
	if link.URL == "" {
		return errors.New("broker.url: an agent by itself has to know the broker: name it, such as \"ssl://shop.example:8883\" (recoat up runs everything in one process)")
	}
	p := &parts{}
	defer p.closeInto(&err)
	found, err := wiring.Find(cfg.Sensors.real())
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
	real, err := realAgent(cfg, found, f, link, s)
	if err != nil {
		return err
	}
	a, err := agent.Open(s.ctx, real)
	if err != nil {
		return err
	}
	p.onClose(a.Close)
	p.add("agent", a.Run)
	log.Info("sampling", "sources", len(found.Guards), "every", time.Duration(cfg.Sensors.Every))
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
	judge, err := plausible.New(plausible.Config{Limits: plausible.Usual()})
	return agent.Config{
		Room: cfg.Room.ID, Node: cfg.Room.Node,
		Boot:   agent.Boot(cfg.Sensors.Root, uuid.NewString, log),
		Period: time.Duration(cfg.Sensors.Every), Clock: poll.SystemClock{},
		Guards: found.Guards, Judge: judge.Check, Spool: f.spool(), Link: link, Log: log,
	}, err
}

// link says how to reach the configured broker; its URL is empty where none is.
func (b brokerConfig) link() (telemetry.Link, error) {
	password, err := b.password()
	if err != nil {
		return telemetry.Link{}, fmt.Errorf("configuration: %w", err)
	}
	return telemetry.Link{URL: b.URL, User: b.User, Password: password}, nil
}
