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
	"recoat/internal/store/sqlite"
	"recoat/sensors"
)

// BenchmarkResident prints how much memory the whole of recoat holds, as the
// kernel counts it (proc(5), VmRSS): just started, and with a simulated week in
// its store at a round every ten seconds, after its pages were looked at.
func BenchmarkResident(b *testing.B) {
	binary := filepath.Join(b.TempDir(), "recoat")
	build := exec.CommandContext(b.Context(), "go", "build", "-trimpath", "-tags", "nethttpomithttp2", "-ldflags", "-s -w", "-o", binary, ".")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		b.Fatalf("%v: %s", err, out)
	}
	for _, week := range []bool{false, true} {
		folder := b.TempDir()
		name := "new"
		if week {
			name = "week"
			aWeek(b, filepath.Join(folder, "simulated"))
		}
		quiet, looked := resident(b, binary, folder)
		b.ReportMetric(quiet, "MB-"+name)
		b.ReportMetric(looked, "MB-"+name+"-looked-at")
	}
	b.ReportMetric(0, "ns/op") // means nothing here
}

// aWeek fills a store with the rounds of a node that ends a minute ago.
func aWeek(b *testing.B, folder string) {
	b.Helper()
	f, release, err := openFolder(folder)
	if err != nil {
		b.Fatal(err)
	}
	s, err := sqlite.Open(b.Context(), f.readings())
	if err != nil {
		b.Fatal(err)
	}
	const every, rounds = 10 * time.Second, 7 * 24 * 360
	from := time.Now().Add(-rounds*every - time.Minute).Truncate(time.Second)
	var batch []sensors.Round
	for i := range rounds {
		at := from.Add(time.Duration(i) * every)
		batch = append(batch, sensors.Round{
			Node: "bench", Boot: "week", Seq: uint64(i + 1), Time: at, Uptime: time.Duration(i) * every, ClockSet: true, Readings: ofTheWeek(i),
		})
		if len(batch) == 2000 || i == rounds-1 {
			if err := s.Append(b.Context(), "back-room", batch); err != nil {
				b.Fatal(err)
			}
			batch = batch[:0]
		}
	}
	if err := s.Close(); err != nil {
		b.Fatal(err)
	}
	if err := release(); err != nil {
		b.Fatal(err)
	}
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

// resident runs the binary on a folder, and returns what it holds a while after
// it has come up, and again after its pages were looked at, in MB.
func resident(b *testing.B, binary, folder string) (quiet, looked float64) {
	b.Helper()
	config := filepath.Join(b.TempDir(), "recoat.toml")
	if err := os.WriteFile(config, fmt.Appendf(nil, "[data]\nfolder = %q\n[pages]\nlisten = \"127.0.0.1:0\"\n", folder), 0o600); err != nil {
		b.Fatal(err)
	}
	c := exec.CommandContext(b.Context(), binary, "up", "--simulate", "--config", config)
	out, err := c.StdoutPipe()
	if err != nil {
		b.Fatal(err)
	}
	if err := c.Start(); err != nil {
		b.Fatal(err)
	}
	defer func() {
		_ = c.Process.Kill()
		_ = c.Wait()
	}()
	url := ""
	for lines := bufio.NewScanner(out); url == "" && lines.Scan(); {
		url = address.FindString(lines.Text())
	}
	go func() { _, _ = io.Copy(io.Discard, out) }()
	time.Sleep(time.Minute)
	quiet = holds(b, c.Process.Pid)
	for range 10 {
		for _, page := range []string{"", "room/back-room", "api/rooms", "api/rooms/back-room/history"} {
			look(b, strings.TrimSuffix(url, "/")+"/"+page)
		}
	}
	time.Sleep(10 * time.Second)
	return quiet, holds(b, c.Process.Pid)
}

func look(b *testing.B, url string) {
	b.Helper()
	answer, err := http.Get(url)
	if err != nil {
		b.Fatal(err)
	}
	_, _ = io.Copy(io.Discard, answer.Body)
	_ = answer.Body.Close()
}

func holds(b *testing.B, pid int) float64 {
	b.Helper()
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		b.Fatal(err)
	}
	for line := range strings.Lines(string(text)) {
		if kb, found := strings.CutPrefix(line, "VmRSS:"); found {
			n, err := strconv.ParseFloat(strings.TrimSuffix(strings.TrimSpace(kb), " kB"), 64)
			if err != nil {
				b.Fatal(err)
			}
			return n * 1024 / 1e6
		}
	}
	b.Fatal("no VmRSS")
	return 0
}
