package main

import (
	"fmt"
	"io"
	"strings"
	"time"

	"recoat/internal/alert"
	"recoat/internal/room"
)

// replayMessage is a message that a recorded spell would have sent.
type replayMessage struct {
	At       time.Time  `json:"at"`      // when what it tells of happened
	Sent     *time.Time `json:"sent_at"` // null: still held back at the end of the record
	Cause    string     `json:"cause"`
	Severity string     `json:"severity"`
	Room     string     `json:"room"`
	Title    string     `json:"title"`
	Body     string     `json:"body"`
}

// messages routes what was told under the present quiet hours, for one phone. A
// night's end that lies behind the record's still counts.
func (c *replayCommand) messages(cfg config, played room.Replayed) ([]replayMessage, error) {
	route := alert.RouterConfig{Channels: []string{"phone"}, Quiet: cfg.Alerts.Quiet.QuietHours, Zone: time.Time(c.Applied).Location()}
	until := played.Ended
	if end, quiet := route.Quiet.Until(until, route.Zone); quiet {
		until = end.Add(time.Minute)
	}
	sent, err := alert.Preview(route, played.Steps, until)
	if err != nil {
		return nil, err
	}
	all := []replayMessage{}
	for _, m := range sent {
		r := replayMessage{At: m.At, Cause: m.Cause.String(), Severity: m.Severity.String(), Room: m.Key.Room, Title: m.Title, Body: m.Body}
		if m.Status != alert.Held {
			r.Sent = &m.Changed
		}
		all = append(all, r)
	}
	return all, nil
}

func printMessages(w io.Writer, all []replayMessage) {
	fmt.Fprintf(w, "%d messages would have been sent:\n", len(all))
	for _, m := range all {
		when := "held back"
		if m.Sent != nil {
			when = clock(*m.Sent)
		}
		fmt.Fprintf(w, "%s  %s, %s: %s\n", when, m.Severity, m.Cause, m.Title)
		for line := range strings.Lines(m.Body) {
			fmt.Fprintf(w, "    %s\n", strings.TrimSpace(line))
		}
	}
}
