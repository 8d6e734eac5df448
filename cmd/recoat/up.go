package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"time"

	"github.com/google/uuid"

	"recoat/dashboards"
	"recoat/internal/agent"
	"recoat/internal/demo"
	"recoat/internal/shop"
	"recoat/internal/telemetry"
	"recoat/sensors/plausible"
	"recoat/sensors/poll"
	"recoat/sensors/wiring"
)

type upCommand struct {
	Config   string   `help:"Configuration file." type:"path" placeholder:"FILE"`
	Simulate bool     `help:"Use the simulated room even if this machine has sensors." xor:"room"`
	Alert    bool     `help:"Send the simulated room's alerts to the configured channels, not to the log alone."`
	Play     string   `help:"Play a recorded room in place of sensors, from a file of readings, at its own pace." type:"path" placeholder:"READINGS.csv" xor:"room"`
	AsOf     timeFlag `help:"Let the clock of the simulated room stand at this time, for a picture or a comparison. Best with a data folder of its own." placeholder:"TIME"`
}

// resendNearby is how long an agent waits for a hub in the same process. What
// it sends while the hub is still starting finds nobody, and goes again.
const resendNearby = 5 * time.Second

// Run starts everything in one process.
func (c *upCommand) Run(s *session) (err error) {
	cfg, err := loadConfig(c.Config)
	if err != nil {
		return err
	}
	s.level.Set(cfg.Log.Level.Level)
	p := &parts{}
	defer p.closeInto(&err)
	found, simulated, err := c.sensors(cfg, logTo(s))
	if err != nil {
		return err
	}
	still := time.Time(c.AsOf)
	if !simulated && !still.IsZero() {
		return usage{errors.New("--as-of is for the simulated room: say --simulate too")}
	}
	unreal := simulated || c.Play != ""
	h := &house{cfg: cfg, log: logTo(s), parts: p, setup: dashboards.Setup{File: c.Config}, simulated: unreal, played: c.Play, mute: unreal && !c.Alert, still: still}
	path := c.folder(cfg.Data.Folder, simulated)
	if !simulated {
		p.onClose(found.Close)
		warnOf(h.log, found)
	}
	if err := h.open(s.ctx, path); err != nil {
		return err
	}
	hubLink, agentLink, err := h.embedBroker(s.ctx)
	if err != nil {
		return err
	}
	if err := h.serve(hubLink); err != nil {
		return err
	}
	if simulated {
		err = h.addSimulated(s, agentLink)
	} else {
		err = h.addReal(s, found, agentLink)
	}
	if err != nil {
		return err
	}
	if err := h.announce(s); err != nil {
		return err
	}
	return p.run(s.ctx)
}

// folder is where the files of this room are: what is simulated or played is never
// among real readings.
func (c *upCommand) folder(path string, simulated bool) string {
	switch {
	case simulated:
		return string(simulatedIn(path))
	case c.Play != "":
		return string(playedIn(path))
	}
	return path
}

// announce says on the terminal what runs, and where.
func (h *house) announce(s *session) error {
	switch {
	case h.played != "":
		fmt.Fprintf(s.stdout, "No real sensors in use: the readings are played from %s.\n", h.played)
	case h.simulated:
		fmt.Fprintln(s.stdout, "No real sensors in use: the room, its pieces and its coats are simulated.")
	}
	if h.mute {
		fmt.Fprintln(s.stdout, "Its alerts go to the log alone; with --alert they go to the configured channels.")
	}
	fmt.Fprintf(s.stdout, "Tonight: %s\n", h.url())
	return h.invite(s)
}

// sensors returns this machine's sensors, or that the room is to be simulated:
// because it was asked for, because there is none, or, on a first try without a
// configuration, because what there is cannot be used. Why is then in the log.
func (c *upCommand) sensors(cfg config, log *slog.Logger) (found wiring.Sensors, simulated bool, err error) {
	if c.Simulate {
		return found, true, nil
	}
	if c.Play != "" {
		found, err = playFile(c.Play)
		return found, false, err
	}
	found, err = wiring.Find(cfg.Sensors.real())
	switch {
	case err == nil:
		return found, false, nil
	case errors.Is(err, wiring.ErrNone) || c.Config == "":
		log.Info("no real sensor", "reason", err)
		return found, true, neverMeasured(cfg.Data.Folder, err)
	}
	return found, false, fmt.Errorf("%w; recoat up --simulate does without", err)
}

// neverMeasured is an error where a data folder has readings of real sensors:
// such a shop has lost them, and none must pretend otherwise.
func neverMeasured(path string, lost error) error {
	_, err := os.Stat(folder(path).readings())
	switch {
	case err == nil:
		return fmt.Errorf("%w; but %s holds readings of a real room, so none is simulated: check the wiring (recoat doctor), or try recoat up --simulate, which keeps its files apart", lost, path)
	case errors.Is(err, os.ErrNotExist):
		return nil
	}
	return fmt.Errorf("look for readings of real sensors: %w", err)
}

func (h *house) addReal(s *session, found wiring.Sensors, link telemetry.Link) error {
	cfg, err := realAgent(h.cfg, found, h.folder, link, s)
	if err != nil {
		return err
	}
	cfg.Resend = resendNearby
	a, err := agent.Open(s.ctx, cfg)
	if err != nil {
		return err
	}
	h.parts.onClose(a.Close)
	h.parts.add("agent", a.Run)
	h.parts.addDisplay(h.cfg, link, h.log)
	h.watch(a)
	return nil
}

// watch tells the service manager of the hub and of the agent beside it.
func (h *house) watch(a *agent.Agent) {
	vitals := append(agentVitals(a, time.Duration(h.cfg.Sensors.Every)), hubVital(h.hub))
	h.parts.watch(h.log, h.hub.Ready(), a.Status, vitals...)
}

// addSimulated adds the simulated room: its demo pieces, its history up to now,
// and then its running.
func (h *house) addSimulated(s *session, link telemetry.Link) error {
	now := h.now()
	room := shop.Room{ID: h.cfg.Room.ID, Title: h.cfg.Room.Title}
	if err := demo.Fill(s.ctx, h.journal, room, now); err != nil {
		return err
	}
	sim, err := wiring.Simulate(demo.Simulated(now))
	if err != nil {
		return err
	}
	h.parts.onClose(sim.Close)
	judge, err := plausible.New(plausible.Config{Limits: plausible.Usual()})
	if err != nil {
		return err
	}
	every, clock := time.Duration(h.cfg.Sensors.Every), poll.Clock(demo.Clock{Began: sim.Now()})
	if !h.still.IsZero() { // one round of the instant at which the clock stands is enough
		every, clock = longestPeriod, standing{began: sim.Now(), at: h.still}
	}
	a, err := agent.Open(s.ctx, agent.Config{
		Room: room.ID, Node: h.cfg.Room.Node, Boot: uuid.NewString(),
		Period: every, Clock: clock,
		Buses: sim.Buses, Judge: judge.Check, Spool: h.folder.spool(), Link: link, Resend: resendNearby, Log: h.log,
	})
	if err != nil {
		return err
	}
	h.parts.onClose(a.Close)
	h.watch(a)
	h.parts.add("simulated node", func(ctx context.Context) error { return h.runSimulated(ctx, sim, a) })
	return nil
}

// runSimulated catches up from the last reading of an earlier run, then samples
// on.
func (h *house) runSimulated(ctx context.Context, sim *wiring.Simulation, a *agent.Agent) error {
	extents, err := h.store.Extents(ctx)
	if err != nil {
		return err
	}
	var from time.Time
	for _, e := range extents {
		if e.Last.After(from) {
			from = e.Last
		}
	}
	coats, err := h.journal.OpenCoats(ctx, h.cfg.Room.ID)
	if err != nil {
		return err
	}
	if err := demo.CatchUp(ctx, sim, a, coats, from, h.now()); err != nil {
		if ctx.Err() != nil {
			return nil
		}
		return err
	}
	both := &parts{}
	if h.still.IsZero() {
		both.add("room", func(ctx context.Context) error { return demo.Run(ctx, sim) })
	}
	both.add("agent", a.Run)
	return both.run(ctx)
}
