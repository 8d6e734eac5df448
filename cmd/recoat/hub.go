package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"syscall"
	"time"

	"github.com/google/uuid"

	"recoat/dashboards"
	"recoat/dashboards/backend"
	"recoat/internal/alert"
	"recoat/internal/follow"
	"recoat/internal/hub"
	"recoat/internal/seal"
	"recoat/internal/shop"
	"recoat/internal/shop/compat"
	"recoat/internal/shop/photo"
	"recoat/internal/store"
	"recoat/internal/store/calibrated"
	"recoat/internal/telemetry"
	"recoat/internal/upkeep"
	"recoat/sensors/calibration"
)

type hubCommand struct {
	Config string `help:"Configuration file." type:"path" placeholder:"FILE"`
}

// Run starts the hub with a broker that its agents reach too.
func (c *hubCommand) Run(s *session) (err error) {
	cfg, link, err := loadHalf(c.Config, "a hub by itself hears its agents through a broker that they reach too, or is one itself (broker.listen)", true)
	if err != nil {
		return err
	}
	s.level.Set(cfg.Log.Level.Level)
	p := &parts{}
	defer p.closeInto(&err)
	h := &house{cfg: cfg, log: logTo(s), parts: p, setup: dashboards.Setup{File: c.Config}}
	if err := h.open(s.ctx, cfg.Data.Folder); err != nil {
		return err
	}
	if link.URL == "" { // it is the broker itself
		if link, _, err = h.embedBroker(s.ctx); err != nil {
			return err
		}
	}
	if err := h.serve(link); err != nil {
		return err
	}
	p.watch(h.log, h.hub.Ready(), func(context.Context) string { return "pages at " + h.url() }, hubVital(h.hub))
	if err := h.announce(s); err != nil {
		return err
	}
	return p.run(s.ctx)
}

// house is the hub's half of the wiring: files, rooms, alerts and pages.
type house struct {
	cfg      config
	log      *slog.Logger
	parts    *parts
	folder   folder
	journal  *shop.Journal
	compat   compat.Table
	setup    dashboards.Setup // what the configuration file decides, for the pages
	store    store.Readings
	outbox   *alert.Outbox
	seals    *seal.Log
	book     *calibration.Book // the checks of the sensors
	hub      *hub.Hub
	claimant *telemetry.Claimant // nil: the broker is this hub's alone
	nightly  *upkeep.Nightly
	courier  *alert.Courier
	beat     *alert.Heartbeat // nil: none is configured
	ways     ways
	pages    net.Listener
	door     entrance
	outside  net.Addr          // where the broker hears nodes elsewhere; nil: nowhere
	broker   *telemetry.Broker // of this process; nil: it is elsewhere

	simulated bool      // the room and all in it, or its readings alone
	played    string    // the recording that its readings are played from; empty: none
	still     time.Time // where the clock of a simulated room stands; zero: it runs
	mute      bool      // alerts go to the log alone, whatever is configured
}

// open takes the address of the pages first, so that a port in use leaves no
// file behind, then the files.
func (h *house) open(ctx context.Context, path string) (err error) {
	if h.pages, err = listen(ctx, h.cfg.Pages.Listen); err != nil {
		return err
	}
	h.parts.onClose(func() error { return ignoreClosed(h.pages.Close()) })
	var release func() error
	if h.folder, release, err = openFolder(path); err != nil {
		return err
	}
	h.parts.onClose(release)
	if err := mend(ctx, h.cfg.Data.keeper(h.folder), func(what string) { h.log.Error(what) }); err != nil {
		return err
	}
	if err := h.openEntrance(ctx); err != nil {
		return err
	}
	if err := h.openStore(ctx); err != nil {
		return err
	}
	if h.journal, err = shop.OpenJournal(ctx, h.folder.journal()); err != nil {
		return err
	}
	h.parts.onClose(h.journal.Close)
	if h.compat, err = compat.OpenTable(h.folder.compatibility()); err != nil {
		return err
	}
	if h.outbox, err = alert.OpenOutbox(ctx, h.folder.outbox()); err != nil {
		return err
	}
	h.parts.onClose(h.outbox.Close)
	if h.seals, err = seal.OpenLog(ctx, h.folder.seals()); err != nil {
		return err
	}
	h.parts.onClose(h.seals.Close)
	return ensureRooms(ctx, h.cfg, h.journal, h.now())
}

// corrected is the store as it is read: through the checks of the sensors.
func (h *house) corrected() store.Readings { return calibrated.New(h.store, h.book) }

// serve adds the hub, the alerts' courier and the pages to the parts. The hub hears
// nodes at its own broker, and where it has none over the link.
func (h *house) serve(link telemetry.Link) error {
	w, err := h.channels()
	if err != nil {
		return err
	}
	if err := h.claim(link); err != nil {
		return err
	}
	started := time.Now()
	h.book = &calibration.Book{}
	h.hub = hub.New(hub.Options{
		Readings: h.corrected(), Checks: h.journal, Book: h.book, Journal: h.journal, Decisions: h.outbox, Workpieces: h.journal,
		Channels: names(w.first), Second: names(w.second), Watch: h.watched(), Fahrenheit: h.cfg.Pages.Units.fahrenheit(),
		EscalateAfter: time.Duration(h.cfg.Alerts.After), Quiet: h.cfg.Alerts.Quiet.QuietHours, NewID: uuid.NewString, Location: time.Local, Owns: h.owns, Log: h.log,
		Now: func() alert.Instant { return alert.Instant{Wall: h.now(), Mono: time.Since(started)} },
	})
	if err := h.tell(w); err != nil {
		return err
	}
	var receiver *telemetry.Receiver
	meter := h.observe(func() telemetry.ReceiverStats { return receiver.Stats() })
	handle := func(d telemetry.Delivery) { h.hub.Deliver(meter.Delivery(d)) }
	if receiver, err = h.receiver(link, handle); err != nil {
		return err
	}
	h.parts.add("hub", h.hub.Run)
	h.parts.add("alerts", h.courier.Run)
	h.parts.add("receiver", h.listens(receiver))
	h.upkeep()
	h.parts.add("seals", h.sealer().Run)
	h.speakToDisplays(link)
	h.parts.add("pages", h.servePages)
	return nil
}

// How long a request may take to say what it wants, its body with it, and the
// pages to end.
const (
	headerTimeout  = 5 * time.Second
	requestTimeout = 15 * time.Second
	idleTimeout    = 2 * time.Minute
	farewell       = 3 * time.Second
)

// server serves the pages. It sets no limit to the whole of an answer, as event
// streams go on for days; each of their writes has one of its own.
func (h *house) server(ctx context.Context) *http.Server {
	o := dashboards.Options{
		House: h.hub, History: backend.NewHistory(h.corrected()), Book: backend.NewBook(h.journal), Compat: h.compat,
		Doings: backend.NewJournal(h.journal), Told: h.outbox, Schedules: h.journal, Records: h.records(), Checks: backend.Checks{Readings: h.store, Journal: h.journal},
		Acknowledge: h.hub.Acknowledge, Simulated: h.simulated, Log: h.log, Location: time.Local, Now: h.now,
		TwelveHour: h.cfg.Pages.Clock == "12h",
		Hosts:      h.cfg.Pages.Hosts, Notices: h.notices,
		Cards:  backend.Cards{Reader: follow.Reader{Readings: h.corrected(), Places: h.journal}, Journal: h.journal},
		Photos: photo.Folder(h.folder.photos()), Backup: h.journal, Setup: h.setup,
		Alerts: h.alertPages(), Previewer: h.past(), Push: h.pushPages(), Fahrenheit: h.cfg.Pages.Units.fahrenheit(),
	}
	if h.cfg.Pages.guarded() {
		o.Gate, o.People = h.door.book, h.door.book
	}
	if h.door.own != nil {
		o.Authority = h.door.own.Certificate()
	}
	return &http.Server{
		Handler:           dashboards.New(o),
		TLSConfig:         h.door.secure,
		ErrorLog:          slog.NewLogLogger(h.log.Handler(), slog.LevelDebug), // handshakes that strangers break off
		ReadHeaderTimeout: headerTimeout,
		ReadTimeout:       requestTimeout,
		IdleTimeout:       idleTimeout,
		BaseContext:       func(net.Listener) context.Context { return ctx },
	}
}

func (h *house) servePages(ctx context.Context) error {
	server := h.server(ctx)
	if h.overTLS() {
		return serveUntil(ctx, server, func() error { return server.ServeTLS(h.pages, "", "") })
	}
	return serveUntil(ctx, server, func() error { return server.Serve(h.pages) })
}

// embedBroker starts a broker on loopback whose two users exist for this run
// only, and returns how the hub and the agent reach it. Where it is asked to, it
// also hears nodes elsewhere.
func (h *house) embedBroker(ctx context.Context) (hub, agent telemetry.Link, err error) {
	hubUser := telemetry.HubUser("hub", uuid.NewString())
	agentUser := telemetry.AgentUser("agent", uuid.NewString(), h.cfg.Room.ID, h.cfg.Room.Node)
	broker, err := telemetry.ListenBroker(ctx, telemetry.BrokerConfig{
		Addr: "127.0.0.1:0", Users: []telemetry.User{hubUser, agentUser}, Log: h.log,
		Outside: h.cfg.Broker.Listen, OutsideTLS: h.door.secure, Nodes: h.door.nodes(ctx),
	})
	if err != nil {
		return hub, agent, err
	}
	h.parts.onClose(func() error { return ignoreClosed(broker.Close()) })
	h.parts.add("broker", broker.Run)
	h.broker, h.outside = broker, broker.OutsideAddr()
	url := "tcp://" + broker.Addr().String()
	return telemetry.Link{URL: url, User: hubUser.Name, Password: hubUser.Password},
		telemetry.Link{URL: url, User: agentUser.Name, Password: agentUser.Password}, nil
}

func (h *house) url() string {
	scheme := "http"
	if h.overTLS() {
		scheme = "https"
	}
	return scheme + "://" + reachable(h.pages.Addr()) + "/"
}

// listen takes the address of the pages.
func listen(ctx context.Context, address string) (net.Listener, error) {
	return listenAt(ctx, "pages.listen", address)
}

// listenAt takes an address, and says whose fault it is where it cannot.
func listenAt(ctx context.Context, key, address string) (net.Listener, error) {
	l, err := (&net.ListenConfig{}).Listen(ctx, "tcp", address)
	switch {
	case errors.Is(err, syscall.EADDRINUSE):
		section, name, _ := strings.Cut(key, ".")
		return nil, fmt.Errorf("%s %s: the port is in use, perhaps by another recoat: stop that one, or name another port under [%s] %s", key, address, section, name)
	case err != nil:
		return nil, fmt.Errorf("%s: %w", key, err)
	}
	return l, nil
}

func ignoreClosed(err error) error {
	if errors.Is(err, net.ErrClosed) {
		return nil
	}
	return err
}
