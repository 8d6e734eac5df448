package main

import (
	"context"
	"log/slog"
	"time"

	"recoat/internal/agent"
	"recoat/internal/hub"
	"recoat/internal/systemd"
)

// hubTurn is how often the hub gives a sign of itself.
const hubTurn = 5 * time.Second

// agentVitals are what has to go on in an agent that takes a round every so
// often.
func agentVitals(a *agent.Agent, every time.Duration) []systemd.Vital {
	return []systemd.Vital{
		{Name: "sampling", Beats: a.Sampled, Every: every},
		{Name: "spool", Beats: a.Spooled, Every: every},
		{Name: "delivery", Beats: a.Delivered, Every: every},
	}
}

func hubVital(h *hub.Hub) systemd.Vital {
	return systemd.Vital{Name: "rooms", Beats: h.Turns, Every: hubTurn}
}

// watch adds telling the service manager to the parts.
func (p *parts) watch(log *slog.Logger, ready <-chan struct{}, status func(context.Context) string, vitals ...systemd.Vital) {
	p.add("memory", giveBack)
	p.add("service manager", systemd.Watch{
		Manager: systemd.Socket{}, Ready: ready, Vitals: vitals, Status: status, Log: log,
	}.Run)
}
