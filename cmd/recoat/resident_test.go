package main

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"recoat/internal/demo"
	"recoat/sensors"
)

// How long a program has run when it is first measured, and for how long its pages
// are then looked at: long enough for what the start let go of to have come back.
const (
	residentAfter = 6 * time.Minute
	lookedAtFor   = time.Minute
)

// BenchmarkResident prints how much memory the whole of recoat holds, in MB as the
// kernel counts it (proc(5), VmRSS), and how much of that is its own (RssAnon)
// rather than pages of its file: idle, with one sensor and no simulation; new, with
// the simulated room; and with a simulated week in its store at a round every ten
// seconds. Each runs for six minutes, and is measured again after its pages were
// looked at while a stream of events was open. It takes eight minutes.
func BenchmarkResident(b *testing.B) {
	binary := filepath.Join(b.TempDir(), "recoat")
	build := exec.CommandContext(b.Context(), "go", "build", "-trimpath", "-tags", "nethttpomithttp2", "-ldflags", "-s -w", "-o", binary, ".")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		b.Fatalf("%v: %s", err, out)
	}
	week := b.TempDir()
	fillDays(b, filepath.Join(week, "simulated"), 7)
	kinds := map[string]*measured{
		"idle": begin(b, binary, b.TempDir(), kernelTree(b)),
		"new":  begin(b, binary, b.TempDir(), "/", "--simulate"),
		"week": begin(b, binary, week, "/", "--simulate"),
	}
	time.Sleep(residentAfter)
	for name, m := range kinds {
		m.report(b, name)
	}
	for end := time.Now().Add(lookedAtFor); time.Now().Before(end); time.Sleep(10 * time.Second) {
		for _, m := range kinds {
			m.look(b)
		}
	}
	for name, m := range kinds {
		m.report(b, name+"-looked-at")
	}
	b.ReportMetric(0, "ns/op") // means nothing here
}

// ofTheWeek is a room that goes with the day.
func ofTheWeek(i int) []sensors.Reading {
	day := math.Sin(float64(i) / 8640 * 2 * math.Pi)
	noise := float64(i%17) / 50
	return []sensors.Reading{
		{Channel: sensors.Channel{Quantity: sensors.AirTemperature}, Value: 16 + 4*day + noise},
		{Channel: sensors.Channel{Quantity: sensors.AirHumidity}, Value: 60 - 10*day + noise},
		{Channel: sensors.Channel{Quantity: sensors.AirPressure}, Value: 101325 + float64(i%40)},
		{Channel: sensors.Channel{Quantity: sensors.SurfaceTemperature, Probe: demo.DoorProbe}, Value: 15 + 3*day},
		{Channel: sensors.Channel{Quantity: sensors.SurfaceTemperature, Probe: demo.TopProbe}, Value: 15 + 2*day},
	}
}

// measured is a running program.
type measured struct {
	pid int
	url string
}

// begin runs the binary on a folder, with the sensors below a root path.
func begin(b *testing.B, binary, folder, root string, flags ...string) *measured {
	b.Helper()
	config := filepath.Join(b.TempDir(), "recoat.toml")
	text := fmt.Sprintf("[data]\nfolder = %q\n[pages]\nlisten = \"127.0.0.1:0\"\n[sensors]\nroot = %q\n", folder, root)
	if err := os.WriteFile(config, []byte(text), 0o600); err != nil {
		b.Fatal(err)
	}
	c := exec.CommandContext(b.Context(), binary, append([]string{"up", "--config", config}, flags...)...)
	out, err := c.StdoutPipe()
	if err != nil {
		b.Fatal(err)
	}
	if err := c.Start(); err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() {
		_ = c.Process.Kill()
		_ = c.Wait()
	})
	m := &measured{pid: c.Process.Pid}
	for lines := bufio.NewScanner(out); m.url == "" && lines.Scan(); {
		m.url = strings.TrimSuffix(address.FindString(lines.Text()), "/")
	}
	if m.url == "" {
		b.Fatal("it did not come up")
	}
	go func() { _, _ = io.Copy(io.Discard, out) }()
	return m
}

// look opens the pages as a browser does, while a stream of events is open.
func (m *measured) look(b *testing.B) {
	b.Helper()
	stream, err := http.Get(m.url + "/events")
	if err != nil {
		b.Fatal(err)
	}
	defer stream.Body.Close()
	for _, page := range []string{"/", "/room/back-room", "/plan", "/pieces", "/alerts", "/sensors", "/api/rooms", "/api/rooms/back-room/history"} {
		look(b, m.url+page)
	}
}

func (m *measured) report(b *testing.B, name string) {
	b.Helper()
	b.ReportMetric(m.holds(b, "VmRSS:"), "MB-"+name)
	b.ReportMetric(m.holds(b, "RssAnon:"), "MB-"+name+"-own")
}

func look(b *testing.B, url string) {
	b.Helper()
	answer, err := http.Get(url)
	if err != nil {
		b.Fatal(err)
	}
	_, _ = io.Copy(io.Discard, answer.Body)
	_ = answer.Body.Close()
	if answer.StatusCode != http.StatusOK {
		b.Fatalf("%s answers %s", url, answer.Status)
	}
}

// holds is what a line of proc(5)'s status says, in MB.
func (m *measured) holds(b *testing.B, line string) float64 {
	b.Helper()
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", m.pid))
	if err != nil {
		b.Fatal(err)
	}
	for l := range strings.Lines(string(text)) {
		if kb, found := strings.CutPrefix(l, line); found {
			n, err := strconv.ParseFloat(strings.TrimSuffix(strings.TrimSpace(kb), " kB"), 64)
			if err != nil {
				b.Fatal(err)
			}
			return n * 1024 / 1e6
		}
	}
	b.Fatalf("/proc/%d/status has no %s", m.pid, line)
	return 0
}
