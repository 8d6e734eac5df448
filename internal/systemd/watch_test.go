package systemd

import (
	"context"
	"errors"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"
)

// manager notes what it is told, and when.
type manager struct {
	mu       sync.Mutex
	patience time.Duration
	start    time.Time
	told     []string
	fed      []time.Duration
	fails    error
}

func (m *manager) Notify(state string) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.told = append(m.told, state)
	if strings.Contains(state, "WATCHDOG=1") {
		m.fed = append(m.fed, time.Since(m.start))
	}
	return m.fails
}

func (m *manager) Patience() (time.Duration, error) { return m.patience, nil }

// vital beats every so often until it is stopped.
type vital struct {
	beats atomic.Uint64
	until time.Duration
}

func (v *vital) run(ctx context.Context, start time.Time, every time.Duration) {
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
			if v.until == 0 || time.Since(start) < v.until {
				v.beats.Add(1)
			}
		}
	}
}

// watched runs a watch over three vitals, of which one stops after so long.
func watched(t *testing.T, patience, every, length time.Duration, stops int, after time.Duration) *manager {
	t.Helper()
	m := &manager{patience: patience, start: time.Now()}
	ctx, cancel := context.WithTimeout(t.Context(), length)
	defer cancel()
	w := Watch{Manager: m, Status: func(context.Context) string { return "sampling\n2 sources" }, Log: slog.New(slog.DiscardHandler)}
	for i, name := range []string{"sampling", "spool", "delivery"} {
		v := &vital{}
		if i == stops {
			v.until = after
		}
		go v.run(ctx, m.start, every)
		w.Vitals = append(w.Vitals, Vital{Name: name, Beats: v.beats.Load, Every: every})
	}
	if err := w.Run(ctx); err != nil {
		t.Fatal(err)
	}
	return m
}

// A sign of life comes well within the manager's patience while all goes on, and
// none comes once any of the three has stopped.
func TestASignOfLifeNeedsEveryVital(t *testing.T) {
	for stops, name := range []string{"sampling", "spool", "delivery", "none"} {
		synctest.Test(t, func(t *testing.T) {
			m := watched(t, time.Minute, 10*time.Second, time.Hour, stops, 20*time.Minute)
			last := time.Duration(0)
			for _, at := range m.fed {
				if at-last > time.Minute {
					t.Errorf("%s stops: %s without a sign, after %s", name, at-last, last)
				}
				last = at
			}
			switch {
			case name == "none" && last < 59*time.Minute:
				t.Errorf("the last sign came after %s", last)
			case name != "none" && (last < 19*time.Minute || last > 20*time.Minute+15*time.Second):
				t.Errorf("%s stops after 20 min; the last sign came after %s", name, last)
			}
			if m.told[0] != "READY=1\nSTATUS=sampling 2 sources" || m.told[len(m.told)-1] != "STOPPING=1" {
				t.Errorf("told %q first and %q last", m.told[0], m.told[len(m.told)-1])
			}
		})
	}
}

// A node that reads every ten minutes asks for more patience, and keeps it.
func TestASlowPaceAsksForMorePatience(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := watched(t, time.Minute, 10*time.Minute, 6*time.Hour, 3, 0)
		if m.told[0] != "WATCHDOG_USEC=1800000000" {
			t.Errorf("told %q, want half an hour to be asked for", m.told[0])
		}
		last := time.Duration(0)
		for _, at := range append(m.fed, 6*time.Hour) {
			if at-last > 30*time.Minute {
				t.Errorf("%s without a sign", at-last)
			}
			last = at
		}
	})
}

func TestNothingIsSaidToBeReadyBeforeItIs(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m, ready := &manager{start: time.Now()}, make(chan struct{})
		ctx, cancel := context.WithTimeout(t.Context(), time.Hour)
		defer cancel()
		time.AfterFunc(time.Minute, func() { close(ready) })
		time.AfterFunc(59*time.Second, func() {
			m.mu.Lock()
			defer m.mu.Unlock()
			if len(m.told) > 0 {
				t.Errorf("told %q", m.told)
			}
		})
		w := Watch{Manager: m, Ready: ready, Status: func(context.Context) string { return "" }, Log: slog.New(slog.DiscardHandler)}
		if err := w.Run(ctx); err != nil || m.told[0] != "READY=1\nSTATUS=" || len(m.fed) > 0 {
			t.Errorf("%v, %q", err, m.told)
		}
	})
}

func TestAManagerThatCannotBeToldIsAnError(t *testing.T) {
	m := &manager{fails: errors.New("no buffer space")}
	w := Watch{Manager: m, Status: func(context.Context) string { return "" }, Log: slog.New(slog.DiscardHandler)}
	if err := w.Run(t.Context()); !errors.Is(err, m.fails) {
		t.Errorf("%v", err)
	}
}

// The protocol of sd_notify(3): datagrams to the socket that NOTIFY_SOCKET names,
// and microseconds in WATCHDOG_USEC for the process of WATCHDOG_PID.
func TestTheSocketSpeaksTheProtocol(t *testing.T) {
	path := filepath.Join(t.TempDir(), "notify")
	conn, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: path, Net: "unixgram"})
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	t.Setenv("NOTIFY_SOCKET", path)
	t.Setenv("WATCHDOG_USEC", "60000000")
	t.Setenv("WATCHDOG_PID", strconv.Itoa(os.Getpid()))
	if d, err := (Socket{}).Patience(); err != nil || d != time.Minute {
		t.Errorf("%s, %v", d, err)
	}
	if err := (Socket{}).Notify("READY=1\nSTATUS=well"); err != nil {
		t.Fatal(err)
	}
	b := make([]byte, 100)
	if n, err := conn.Read(b); err != nil || string(b[:n]) != "READY=1\nSTATUS=well" {
		t.Errorf("%q, %v", b[:n], err)
	}
}

func TestWithoutAManagerNothingFails(t *testing.T) {
	t.Setenv("NOTIFY_SOCKET", "")
	t.Setenv("WATCHDOG_USEC", "")
	if d, err := (Socket{}).Patience(); err != nil || d != 0 {
		t.Errorf("%s, %v", d, err)
	}
	if err := (Socket{}).Notify("READY=1"); err != nil {
		t.Error(err)
	}
}
