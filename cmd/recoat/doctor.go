package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"recoat/internal/store/sqlite"
	"recoat/sensors"
	"recoat/sensors/poll"
	"recoat/sensors/wiring"
)

type doctorCommand struct {
	Config string `help:"Configuration file." type:"path" placeholder:"FILE"`
	JSON   bool   `name:"json" help:"Write JSON."`
}

// finding is one line of the doctor: what was looked at, how it is, and what to
// do where it is not well.
type finding struct {
	Subject string `json:"subject"`
	State   string `json:"state"` // ok, not ok, not there
	Detail  string `json:"detail"`
	Do      string `json:"do,omitempty"`
}

const (
	ok       = "ok"
	notOK    = "not ok"
	notThere = "not there"
)

// errUnwell is the doctor's exit code; the findings have been written already.
var errUnwell = errors.New("something is not ok: see above")

// Run looks at everything this machine needs. It changes nothing.
func (c *doctorCommand) Run(s *session) error {
	findings := c.examine(s.ctx)
	if c.JSON {
		if err := writeJSON(s.stdout, findings); err != nil {
			return err
		}
	} else {
		for _, f := range findings {
			fmt.Fprintf(s.stdout, "%-9s  %-13s  %s\n", f.State, f.Subject, f.Detail)
			if f.Do != "" {
				fmt.Fprintf(s.stdout, "%-9s  %-13s  → %s\n", "", "", f.Do)
			}
		}
	}
	for _, f := range findings {
		if f.State == notOK {
			return errUnwell
		}
	}
	return nil
}

func (c *doctorCommand) examine(ctx context.Context) []finding {
	cfg, err := loadConfig(c.Config)
	if err != nil {
		return []finding{{"configuration", notOK, err.Error(), "mend the file; deploy/recoat.toml shows every key"}}
	}
	detail := "built-in settings"
	if c.Config != "" {
		detail = c.Config
	}
	all := []finding{{"configuration", ok, detail, ""}}
	all = append(all, lookForSensors(ctx, cfg)...)
	return append(all, lookAtClock(), lookAtDisk(cfg), lookAtStore(ctx, cfg), lookAtBroker(ctx, cfg), lookAtPages(ctx, cfg), lookAtPhone(cfg))
}

// lookForSensors reads each sensor once.
func lookForSensors(ctx context.Context, cfg config) []finding {
	found, err := wiring.Find(cfg.Sensors.real())
	if errors.Is(err, wiring.ErrNone) {
		return []finding{{"sensors", notThere, err.Error(), "recoat up simulates a room where none was ever measured; firmware-config/README.md says how to wire a real one"}}
	}
	if err != nil {
		return []finding{{"sensors", notOK, err.Error(), "mend that; recoat up --simulate does without"}}
	}
	defer func() { _ = found.Close() }()
	var all []finding
	for _, err := range found.Failures {
		all = append(all, finding{"sensors", notOK, err.Error(), "check its wiring, [sensors] in the configuration, and the rights to the bus (group i2c)"})
	}
	for _, g := range found.Guards() {
		readings := g.Read(ctx, time.Now())
		h := g.Health()
		if !h.OK {
			all = append(all, finding{"sensor", notOK, h.Source + ": " + h.Err, "check its wires and its supply"})
			continue
		}
		all = append(all, finding{"sensor", ok, h.Source + ": " + values(readings), ""})
	}
	return all
}

func values(readings []sensors.Reading) string {
	text := ""
	for _, r := range readings {
		if r.Quality == sensors.Missing {
			text += fmt.Sprintf(" %s missing", r.Channel)
			continue
		}
		text += fmt.Sprintf(" %s %.1f %s", r.Channel, r.Value, r.Channel.Quantity.Unit())
	}
	return text
}

func lookAtClock() finding {
	now := poll.SystemClock{}.Now()
	detail := now.Wall.Format("Mon 2 Jan 2006 15:04:05 MST")
	if now.Set {
		return finding{"clock", ok, detail + ", set from outside", ""}
	}
	return finding{"clock", notThere, detail + ", not known to be set", "give the machine a network time service or a clock with a battery; until then readings are dated when the clock is set"}
}

const scarce = 512 << 20 // bytes

func lookAtDisk(cfg config) finding {
	path := existing(cfg.Data.Folder)
	var disk syscall.Statfs_t
	if err := syscall.Statfs(path, &disk); err != nil {
		return finding{"disk", notOK, err.Error(), "name another folder under [data] folder"}
	}
	free := int64(disk.Bavail) * int64(disk.Bsize)
	detail := fmt.Sprintf("%s: %d MiB free", cfg.Data.Folder, free>>20)
	const writable = 2 // access(2), W_OK
	switch {
	case syscall.Access(path, writable) != nil:
		return finding{"disk", notOK, path + " cannot be written to", "let this user write there, or name another folder under [data] folder"}
	case free < scarce:
		return finding{"disk", notOK, detail, "make room: readings stop when the disk is full"}
	}
	return finding{"disk", ok, detail, ""}
}

// existing returns the nearest folder above path that is there.
func existing(path string) string {
	for {
		if _, err := os.Stat(path); err == nil || path == filepath.Dir(path) {
			return path
		}
		path = filepath.Dir(path)
	}
}

func lookAtStore(ctx context.Context, cfg config) finding {
	path := folder(cfg.Data.Folder).readings()
	if _, err := os.Stat(path); errors.Is(err, os.ErrNotExist) {
		return finding{"store", notThere, "no readings kept yet", ""}
	}
	store, err := sqlite.Open(ctx, path)
	if err == nil {
		err = errors.Join(store.Check(ctx), store.Close())
	}
	if err != nil {
		return finding{"store", notOK, err.Error(), "keep the file aside and start anew, or restore a backup"}
	}
	return finding{"store", ok, path, ""}
}

const dialTimeout = 5 * time.Second

func lookAtBroker(ctx context.Context, cfg config) finding {
	if cfg.Broker.URL == "" {
		return finding{"broker", ok, "inside recoat, on this machine alone", ""}
	}
	u, err := url.Parse(cfg.Broker.URL)
	if err != nil || u.Host == "" {
		return finding{"broker", notOK, "broker.url is not an address", "write it as ssl://host:8883 or tcp://host:1883"}
	}
	conn, err := (&net.Dialer{Timeout: dialTimeout}).DialContext(ctx, "tcp", u.Host)
	if err != nil {
		return finding{"broker", notOK, err.Error(), "check that the broker runs and that this machine may reach it"}
	}
	_ = conn.Close()
	return finding{"broker", ok, u.Host + " answers", ""}
}

func lookAtPages(ctx context.Context, cfg config) finding {
	l, err := listen(ctx, cfg.Pages.Listen)
	if err != nil {
		return finding{"pages", notThere, err.Error(), "as it should be while recoat runs here"}
	}
	_ = l.Close()
	return finding{"pages", ok, cfg.Pages.Listen + " is free", ""}
}

func lookAtPhone(cfg config) finding {
	first, second, err := cfg.Alerts.open()
	if err != nil {
		return finding{"phone", notOK, err.Error(), "mend [alerts] in the configuration"}
	}
	all := append(names(first), names(second)...)
	if len(all) == 0 {
		return finding{"phone", notThere, "no channel is configured: nothing reaches a phone", "name one under [alerts]; deploy/recoat.toml says how"}
	}
	return finding{"phone", ok, strings.Join(all, ", ") + " configured (nothing was sent)", ""}
}
