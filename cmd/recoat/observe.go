package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"syscall"
	"time"

	"recoat/internal/observe"
	"recoat/internal/store/influx"
	"recoat/internal/telemetry"
)

// observeConfig says where measurements and profiles are shown; empty: nowhere.
type observeConfig struct {
	Listen string `toml:"listen"`
}

func (c observeConfig) check() error {
	if c.Listen == "" {
		return nil
	}
	if err := checkAddress("observe.listen", c.Listen); err != nil {
		return err
	}
	if host, _, _ := net.SplitHostPort(c.Listen); host != "localhost" && !net.ParseIP(host).IsLoopback() {
		return fmt.Errorf("observe.listen %q: measurements and profiles are for this machine alone: 127.0.0.1, [::1] or localhost", c.Listen)
	}
	return nil
}

// logConfig says how much is logged.
type logConfig struct {
	Level logLevel `toml:"level"`
}

// logLevel is written "debug", "info", "warn" or "error".
type logLevel struct{ slog.Level }

// UnmarshalText reads a level's name.
func (l *logLevel) UnmarshalText(text []byte) error {
	if err := l.Level.UnmarshalText(text); err != nil {
		return fmt.Errorf("%q is not a level: debug, info, warn or error", text)
	}
	return nil
}

// observe returns what counts deliveries on their way to the hub, and shows it
// where an address is configured.
func (h *house) observe(receiver func() telemetry.ReceiverStats) *observe.Meter {
	meter := observe.NewMeter(time.Now, h.gauges(receiver)...)
	if h.cfg.Observe.Listen == "" {
		return meter
	}
	profileUsually()
	h.parts.add("measurements", func(ctx context.Context) error {
		l, err := observe.Listen(ctx, h.cfg.Observe.Listen)
		if err != nil {
			return fmt.Errorf("observe.listen: %w", err)
		}
		h.log.Info("measurements", "url", "http://"+l.Addr().String()+"/metrics")
		return observe.Server{Listener: l, Meter: meter, Ready: h.ready}.Run(ctx)
	})
	return meter
}

// ready returns why the hub does not do its work yet.
func (h *house) ready() error {
	select {
	case <-h.hub.Ready():
		return nil
	default:
		return errors.New("the rooms are being brought up")
	}
}

// gauges are the depths of queues, the room on the disk, and how long the last
// message took to the phone.
func (h *house) gauges(receiver func() telemetry.ReceiverStats) []observe.Gauge {
	count := func(name, help string, read func(telemetry.ReceiverStats) int64) observe.Gauge {
		return observe.Gauge{Name: name, Help: help, Read: func(context.Context) (float64, bool) { return float64(read(receiver())), true }}
	}
	all := []observe.Gauge{
		count("recoat_rounds_received", "Rounds received since the start.", func(s telemetry.ReceiverStats) int64 { return s.Rounds }),
		count("recoat_rounds_acknowledged", "Rounds made durable and acknowledged since the start.", func(s telemetry.ReceiverStats) int64 { return s.Acknowledged }),
		count("recoat_publications_refused", "Publications that were not understood since the start.", func(s telemetry.ReceiverStats) int64 { return s.Refused }),
		count("recoat_publications_dropped", "Publications that found the queue full since the start.", func(s telemetry.ReceiverStats) int64 { return s.Dropped }),
		{Name: "recoat_disk_free_bytes", Unit: "bytes", Help: "Room left on the disk of the data folder.", Read: h.diskFree},
		{Name: "recoat_messages_waiting", Help: "Messages to the phone that wait to be sent.", Read: func(ctx context.Context) (float64, bool) {
			n, err := h.outbox.Waiting(ctx)
			return float64(n), err == nil
		}},
		{Name: "recoat_alert_delivery_seconds", Unit: "seconds", Help: "Time from what the last message is of to its delivery.", Read: func(ctx context.Context) (float64, bool) {
			took, found, err := h.outbox.LastDelivery(ctx)
			return took.Seconds(), found && err == nil
		}},
	}
	if s, ok := h.store.(*influx.Store); ok {
		all = append(all, observe.Gauge{Name: "recoat_influx_waiting", Help: "Rounds that wait for InfluxDB.", Read: func(ctx context.Context) (float64, bool) {
			st, err := s.Stats(ctx)
			return float64(st.Waiting), err == nil
		}}, observe.Gauge{Name: "recoat_influx_aside", Help: "Rounds that InfluxDB refused for good.", Read: func(ctx context.Context) (float64, bool) {
			st, err := s.Stats(ctx)
			return float64(st.Aside), err == nil
		}})
	}
	return all
}

func (h *house) diskFree(context.Context) (float64, bool) {
	var s syscall.Statfs_t
	if err := syscall.Statfs(string(h.folder), &s); err != nil {
		return 0, false
	}
	return float64(s.Bavail) * float64(s.Bsize), true
}
