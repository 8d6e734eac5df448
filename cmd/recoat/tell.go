package main

import (
	"context"
	"math/rand/v2"
	"net"
	"net/http"
	"syscall"
	"time"

	"github.com/google/uuid"

	"recoat/dashboards"
	"recoat/dashboards/backend"
	"recoat/internal/alert"
	"recoat/internal/alert/links"
	"recoat/internal/hub"
)

// channels opens the configured ways to a person, or the log in their place.
func (h *house) channels() (w ways, err error) {
	if w, err = h.cfg.Alerts.open(h.folder, h.outbox); err != nil {
		return ways{}, err
	}
	if h.mute {
		return ways{first: []alert.Channel{alert.NewLogChannel(h.log)}}, nil
	}
	if len(w.first) == 0 {
		h.log.Warn("no channel to the phone is configured: alerts go to this log alone; see [alerts] in deploy/recoat.toml")
		w.first = []alert.Channel{alert.NewLogChannel(h.log)}
		return w, nil
	}
	h.setup.Channels, h.setup.Second = names(w.first), names(w.second)
	h.setup.Hub, h.setup.Rooms = h.cfg.Hub.Name, h.cfg.Hub.Rooms
	return w, nil
}

func names(channels []alert.Channel) []string {
	all := make([]string, len(channels))
	for i, c := range channels {
		all[i] = c.Name()
	}
	return all
}

// watched is what the hub watches beside its rooms.
func (h *house) watched() hub.Watch {
	return hub.Watch{
		Disk:     func() (free, size uint64, err error) { return diskOf(string(h.folder)) },
		SelfTest: h.cfg.Alerts.SelfTest.Weekly,
		AllWell:  h.cfg.Alerts.AllWell.Daily,
	}
}

// diskOf is how many bytes the disk of a folder has free for us, and in all.
func diskOf(path string) (free, size uint64, err error) {
	var disk syscall.Statfs_t
	if err := syscall.Statfs(path, &disk); err != nil {
		return 0, 0, err
	}
	block := uint64(disk.Bsize)
	return disk.Bavail * block, disk.Blocks * block, nil
}

// tell makes the courier, the heartbeat and the listener for links.
func (h *house) tell(w ways) (err error) {
	h.ways = w
	linker, err := h.serveLinks()
	if err != nil {
		return err
	}
	h.courier, err = alert.NewCourier(alert.CourierConfig{
		Outbox: h.outbox, Channels: w.all(), Log: h.log, Now: h.now, Jitter: rand.Float64, Links: linker,
	})
	if err != nil {
		return err
	}
	address, err := h.cfg.Alerts.Heartbeat.address()
	if err != nil || address == "" || h.mute {
		return err
	}
	h.beat, err = alert.NewHeartbeat(alert.HeartbeatConfig{
		URL: address, Every: time.Duration(h.cfg.Alerts.Heartbeat.Every), Alive: h.hub.Alive, Now: h.now, Log: h.log,
	})
	if err != nil {
		return err
	}
	h.parts.add("heartbeat", h.beat.Run)
	return nil
}

// serveLinks adds the listener that answers links, and returns what makes them;
// nil where they are off.
func (h *house) serveLinks() (*alert.Linker, error) {
	c := h.cfg.Links
	if c.Listen == "" {
		return nil, nil
	}
	key, err := ownKey(h.folder.linkKey(), linkKey)
	if err != nil {
		return nil, err
	}
	signer, err := alert.NewSigner(key)
	if err != nil {
		return nil, err
	}
	l, err := listenAt(context.Background(), "links.listen", c.Listen)
	if err != nil {
		return nil, err
	}
	h.parts.onClose(func() error { return ignoreClosed(l.Close()) })
	server := &http.Server{
		Handler: links.New(links.Config{
			Signer: signer, Ledger: h.outbox, Hands: hub.NewHands(h.hub, h.journal), Host: c.Address, Now: h.now, Log: h.log,
		}),
		ReadHeaderTimeout: headerTimeout, ReadTimeout: requestTimeout, WriteTimeout: requestTimeout, IdleTimeout: idleTimeout,
		MaxHeaderBytes: 16 << 10,
	}
	h.parts.add("links", func(ctx context.Context) error {
		server.BaseContext = func(net.Listener) context.Context { return ctx }
		return serveUntil(ctx, server, func() error { return server.Serve(l) })
	})
	return alert.NewLinker(signer, "http://"+c.Address+links.Path), nil
}

// serveUntil serves until ctx ends, then lets what is under way come to its end.
func serveUntil(ctx context.Context, server *http.Server, serve func() error) error {
	ended := make(chan error, 1)
	go func() { ended <- serve() }()
	select {
	case err := <-ended:
		return err
	case <-ctx.Done():
	}
	bye, cancel := context.WithTimeout(context.WithoutCancel(ctx), farewell)
	defer cancel()
	if err := server.Shutdown(bye); err != nil {
		_ = server.Close() // an event stream that does not end
	}
	return nil
}

// alertPages is what the page Alerts shows and does.
func (h *house) alertPages() dashboards.Alerts {
	return backend.NewAlerts(backend.AlertsConfig{
		Outbox: h.outbox, Hub: h.hub, Courier: h.courier, Heartbeat: h.beat, Channels: names(h.ways.all()),
		Quiet: h.cfg.Alerts.Quiet.QuietHours, Location: time.Local, Now: h.now, NewID: uuid.NewString,
	})
}

// past plays past nights with the present rules, as one phone would hear them.
func (h *house) past() hub.Past {
	return hub.Past{
		Readings: h.corrected(), Journal: h.journal, Fahrenheit: h.cfg.Pages.Units.fahrenheit(),
		Route: alert.RouterConfig{Channels: []string{"phone"}, Quiet: h.cfg.Alerts.Quiet.QuietHours, Zone: time.Local},
	}
}

// pushPages lets browsers subscribe, where there is Web Push.
func (h *house) pushPages() dashboards.Push {
	if h.ways.push == nil {
		return nil
	}
	return backend.Push{Identity: h.ways.push, Subscribers: h.outbox}
}
