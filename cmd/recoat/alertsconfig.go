package main

import (
	"errors"
	"fmt"
	"net"
	"strings"
	"time"

	"recoat/internal/hub"
)

// pushConfig is Web Push: off while there is no contact.
type pushConfig struct {
	Contact string `toml:"contact"`
}

// buzzerConfig is a pin with a buzzer or a lamp: off while it has no name.
type buzzerConfig struct {
	Pin       string `toml:"pin"`
	ActiveLow bool   `toml:"active_low"`
}

// heartbeatConfig is an outside address that is asked again and again: off while
// there is none.
type heartbeatConfig struct {
	URL     string `toml:"url"`
	URLFile string `toml:"url_file"`
	Every   period `toml:"every"`
}

// linksConfig is where the links of messages are answered: off while it listens
// nowhere.
type linksConfig struct {
	Listen  string `toml:"listen"`
	Address string `toml:"address"`
}

func defaultAlerts() alertsConfig {
	return alertsConfig{
		Channels: []string{}, ChannelFiles: []string{}, Second: []string{}, SecondFiles: []string{},
		After: period(15 * time.Minute), Mail: mailConfig{Port: 587, To: []string{}},
		SelfTest:  weekly{&hub.Weekly{Day: time.Sunday, At: 18 * time.Hour}},
		Heartbeat: heartbeatConfig{Every: period(10 * time.Minute)},
	}
}

// check refuses half a configuration, and a wildcard as what phones dial.
func (l linksConfig) check() error {
	if l.Listen == "" && l.Address == "" {
		return nil
	}
	if l.Listen == "" || l.Address == "" {
		return errors.New("links: listen (where this machine answers, \"0.0.0.0:7424\") and address (how the phone reaches it, \"192.0.2.7:7424\") go together")
	}
	if _, _, err := net.SplitHostPort(l.Listen); err != nil {
		return fmt.Errorf("links.listen %q: an address and port such as 0.0.0.0:7424", l.Listen)
	}
	host, port, err := net.SplitHostPort(l.Address)
	if ip := net.ParseIP(host); err != nil || host == "" || port == "" || ip != nil && ip.IsUnspecified() {
		return fmt.Errorf("links.address %q: the name or address of this machine as the phone reaches it, with the port, such as 192.0.2.7:7424", l.Address)
	}
	return nil
}

// address returns the heartbeat's, empty where there is none.
func (h heartbeatConfig) address() (string, error) {
	if h.URLFile == "" {
		return h.URL, nil
	}
	if h.URL != "" {
		return "", errors.New("alerts.heartbeat: url and url_file are two ways to say the same: name one")
	}
	return secret("alerts.heartbeat.url_file", h.URLFile)
}

// units is "C" or "F".
type units string

func (u units) check() error {
	if u != "C" && u != "F" {
		return fmt.Errorf("pages.units %q: C or F", string(u))
	}
	return nil
}

func (u units) fahrenheit() bool { return u == "F" }

// daily is a time of day written as "07:30"; empty is never.
type daily struct{ *hub.Daily }

// UnmarshalText reads "07:30".
func (d *daily) UnmarshalText(text []byte) error {
	if len(text) == 0 {
		*d = daily{}
		return nil
	}
	at, err := timeOfDay(string(text))
	if err != nil {
		return err
	}
	*d = daily{&hub.Daily{At: at}}
	return nil
}

// String is as it is written.
func (d daily) String() string {
	if d.Daily == nil {
		return ""
	}
	return clockOf(d.At)
}

// weekly is a time of the week written as "Sun 18:00"; empty is never.
type weekly struct{ *hub.Weekly }

// UnmarshalText reads "Sun 18:00".
func (w *weekly) UnmarshalText(text []byte) error {
	if len(text) == 0 {
		*w = weekly{}
		return nil
	}
	day, rest, _ := strings.Cut(string(text), " ")
	for d := time.Sunday; d <= time.Saturday; d++ {
		if !strings.EqualFold(day, d.String()[:3]) {
			continue
		}
		at, err := timeOfDay(rest)
		if err != nil {
			return err
		}
		*w = weekly{&hub.Weekly{Day: d, At: at}}
		return nil
	}
	return fmt.Errorf("%q is not a time of the week such as \"Sun 18:00\"", text)
}

// String is as it is written.
func (w weekly) String() string {
	if w.Weekly == nil {
		return ""
	}
	return w.Day.String()[:3] + " " + clockOf(w.At)
}

func timeOfDay(text string) (time.Duration, error) {
	t, err := time.Parse("15:04", strings.TrimSpace(text))
	if err != nil {
		return 0, fmt.Errorf("%q is not a time of day such as 07:30", text)
	}
	return t.Sub(t.Truncate(24 * time.Hour)), nil
}

func clockOf(d time.Duration) string { return time.Time{}.Add(d).Format("15:04") }
