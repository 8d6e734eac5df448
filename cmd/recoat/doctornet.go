package main

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"strings"
	"time"

	"github.com/google/uuid"

	"recoat/internal/doctor"
	"recoat/internal/telemetry"
)

// netPatience is how long somebody else may take to answer.
const netPatience = 5 * time.Second

// lookAtBroker logs in to it, as the agent or the hub here does.
func lookAtBroker(ctx context.Context, cfg config) doctor.Finding {
	if cfg.Broker.URL == "" {
		return doctor.Finding{Subject: "broker", State: doctor.OK, Detail: "inside recoat, on this machine alone"}
	}
	link, err := cfg.Broker.link()
	if err != nil {
		return doctor.Finding{Subject: "broker", State: doctor.NotOK, Detail: err.Error(), Do: "mend [broker] in the configuration"}
	}
	if err := telemetry.Reach(ctx, link, "recoat-doctor-"+uuid.NewString()[:8], netPatience); err != nil {
		return doctor.Finding{Subject: "broker", State: doctor.NotOK, Detail: err.Error(), Do: "check that the broker runs, that this machine may reach it, and user and password"}
	}
	return doctor.Finding{Subject: "broker", State: doctor.OK, Detail: link.URL + " lets this machine in"}
}

// lookAtHubs asks the broker which hubs claim rooms there, and looks for one room
// with two of them.
func lookAtHubs(ctx context.Context, cfg config) doctor.Finding {
	const subject = "hubs"
	if cfg.Broker.URL == "" {
		return doctor.Finding{Subject: subject, State: doctor.OK, Detail: "this machine has its broker to itself"}
	}
	link, err := cfg.Broker.link()
	if err != nil {
		return doctor.Finding{Subject: subject, State: doctor.NotThere, Detail: "the broker is not reached"}
	}
	claims, err := telemetry.HearClaims(ctx, link, "recoat-doctor-"+uuid.NewString()[:8], claimPatience)
	if err != nil {
		return doctor.Finding{Subject: subject, State: doctor.NotThere, Detail: "who has which room is not told to user " + cfg.Broker.User}
	}
	return hubsBy(claims)
}

// claimPatience is how long the claims that the broker has kept may take.
const claimPatience = 2 * time.Second

func hubsBy(claims []telemetry.Claim) doctor.Finding {
	f := doctor.Finding{Subject: "hubs", State: doctor.OK}
	if len(claims) == 0 {
		return doctor.Finding{Subject: f.Subject, State: doctor.NotThere, Detail: "none says at the broker that it has a room"}
	}
	var said []string
	for i, c := range claims {
		rooms := "every room"
		if len(c.Rooms) > 0 {
			rooms = strings.Join(c.Rooms, ", ")
		}
		said = append(said, c.Hub+" has "+rooms)
		for _, other := range claims[:i] {
			if shared, all := c.Shared(other); all || len(shared) > 0 {
				f.State, f.Do = doctor.NotOK, fmt.Sprintf("give each room to one hub, under [hub] rooms of both %s and %s", other.Hub, c.Hub)
			}
		}
	}
	f.Detail = strings.Join(said, "; ")
	return f
}

// lookAtHub goes by what the agent here still keeps for it.
func lookAtHub(ctx context.Context, cfg config, now time.Time) doctor.Finding {
	const subject = "hub"
	spool := agentFolder(cfg).spool()
	if _, err := os.Stat(spool); err != nil {
		return doctor.Finding{Subject: subject, State: doctor.NotThere, Detail: "no agent has run here yet"}
	}
	b, err := telemetry.Waiting(ctx, spool)
	if err != nil {
		return doctor.Finding{Subject: subject, State: doctor.NotOK, Detail: err.Error(), Do: "stop the agent, keep the file aside, and start it again"}
	}
	return hubBy(b, now)
}

// behind is how old a round may be that the hub does not have yet.
const behind = 5 * time.Minute

func hubBy(b telemetry.Backlog, now time.Time) doctor.Finding {
	lost := ""
	if b.Dropped > 0 {
		lost = fmt.Sprintf("; %d were lost for want of room", b.Dropped)
	}
	switch {
	case b.Rounds == 0:
		return doctor.Finding{Subject: "hub", State: doctor.OK, Detail: "has every round that was taken here" + lost}
	case now.Sub(b.Oldest).Abs() <= behind:
		return doctor.Finding{Subject: "hub", State: doctor.OK, Detail: fmt.Sprintf("has all rounds but the last %d%s", b.Rounds, lost)}
	}
	return doctor.Finding{
		Subject: "hub", State: doctor.NotOK, Detail: fmt.Sprintf("rounds that wait for it: %d, the oldest of %s%s", b.Rounds, b.Oldest.Local().Format("2 Jan 15:04"), lost),
		Do: "check that the agent and the hub run and reach the same broker; nothing is lost while there is room",
	}
}

// lookAtPages finds their address free, or recoat behind it.
func lookAtPages(ctx context.Context, cfg config) doctor.Finding {
	l, err := listen(ctx, cfg.Pages.Listen)
	if err == nil {
		_ = l.Close()
		return doctor.Finding{Subject: "pages", State: doctor.OK, Detail: cfg.Pages.Listen + " is free"}
	}
	for _, scheme := range []string{"http", "https"} {
		if at := scheme + "://" + fromHere(cfg.Pages.Listen); recoatAnswers(ctx, at) {
			return doctor.Finding{Subject: "pages", State: doctor.OK, Detail: "recoat runs: " + at + "/"}
		}
	}
	return doctor.Finding{Subject: "pages", State: doctor.NotOK, Detail: err.Error(), Do: "name another port under [pages] listen, or stop what has this one"}
}

// fromHere is an address by which this machine itself finds what listens on all
// of its own.
func fromHere(listen string) string {
	host, port, err := net.SplitHostPort(listen)
	if ip := net.ParseIP(host); err == nil && (host == "" || ip != nil && ip.IsUnspecified()) {
		return net.JoinHostPort("127.0.0.1", port)
	}
	return listen
}

// recoatAnswers asks for its sign of life. Whose certificate it is makes no odds:
// nothing is told to it, and a gate that asks to log in first is recoat's too.
func recoatAnswers(ctx context.Context, at string) bool {
	ctx, cancel := context.WithTimeout(ctx, netPatience)
	defer cancel()
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, at+"/healthz", nil)
	if err != nil {
		return false
	}
	transport := &http.Transport{TLSClientConfig: &tls.Config{MinVersion: tls.VersionTLS12, InsecureSkipVerify: true}}
	defer transport.CloseIdleConnections()
	answer, err := transport.RoundTrip(request)
	if err != nil {
		return false
	}
	text, err := io.ReadAll(io.LimitReader(answer.Body, 64))
	if err = errors.Join(err, answer.Body.Close()); err != nil {
		return false
	}
	alive := answer.StatusCode == http.StatusOK && string(text) == "ok\n"
	gated := answer.StatusCode == http.StatusUnauthorized && string(text) == "Log in first.\n"
	return alive || gated
}
