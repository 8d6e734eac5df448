package main

import (
	"bufio"
	"context"
	"errors"
	"io"
	"log/slog"
	"math"
	"net/http"
	"net/http/httptest"
	"os/exec"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"recoat/dashboards"
	"recoat/drying"
	"recoat/internal/demo"
	"recoat/internal/shop"
	"recoat/internal/store/sqlite"
	"recoat/internal/telemetry"
	"recoat/sensors"
)

// BenchmarkFiftyPhonesWithAYear is the whole hub over a year of rounds ten seconds
// apart, with two coats drying: a live round comes in time after time, and each of
// fifty phones that have Tonight open is told, and fetches it again; then one opens
// the chart of the whole year, ten times. What a page takes is measured in the
// server; growth is that of the heap, phones and all.
func BenchmarkFiftyPhonesWithAYear(b *testing.B) {
	const phones = 50
	y := startYear(b)
	before := y.inUse()
	all := make([]*yearPhone, phones)
	for i := range all {
		all[i] = y.phone(b)
	}
	round := 0
	for b.Loop() {
		round++
		y.live(round)
		var wait sync.WaitGroup
		for _, p := range all {
			wait.Go(func() {
				p.changed(b)
				y.get(b, "/")
			})
		}
		wait.Wait()
	}
	for range 10 {
		y.get(b, "/room/back-room?span=1y")
	}
	y.report(b, "/", "tonight")
	y.report(b, "/room/back-room", "year")
	b.ReportMetric(float64(y.inUse()-before)/1e6, "MB-growth")
}

// BenchmarkFirstPaintWithAYear is how long it takes until Chromium shows anything
// of a page of the same hub, over loopback.
func BenchmarkFirstPaintWithAYear(b *testing.B) {
	path, err := exec.LookPath("chromium")
	if err != nil {
		b.Skip("no chromium on PATH: no page is painted")
	}
	y := startYear(b)
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.UserDataDir(b.TempDir()), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true), chromedp.Flag("disable-quic", true))
	alloc, stopAlloc := chromedp.NewExecAllocator(b.Context(), options...)
	b.Cleanup(stopAlloc)
	page, stop := chromedp.NewContext(alloc)
	b.Cleanup(stop)
	for name, address := range map[string]string{"tonight": "/", "room-year": "/room/back-room?span=1y"} {
		b.Run(name, func(b *testing.B) {
			var took []float64
			for b.Loop() {
				err := chromedp.Do(page, chromedp.EmulateViewport(390, 844), chromedp.Navigate(y.server.URL+address), chromedp.WaitVisible("h1"), chromedp.Sleep(100*time.Millisecond))
				if err != nil {
					b.Fatal(err)
				}
				ms, err := chromedp.Run(page, chromedp.Evaluate[float64](`performance.getEntriesByName("first-contentful-paint")[0]?.startTime ?? -1`))
				if err != nil || ms < 0 {
					b.Fatalf("nothing was painted: %v", err)
				}
				took = append(took, ms)
			}
			slices.Sort(took)
			b.ReportMetric(took[len(took)/2], "ms-to-paint")
			b.ReportMetric(took[len(took)-1], "ms-most")
		})
	}
}

// year is a hub over a year of rounds, and what its pages took.
type year struct {
	house  *house
	server *httptest.Server
	client *http.Client
	mu     sync.Mutex
	took   map[string][]time.Duration // by path
}

func startYear(b *testing.B) *year {
	b.Helper()
	ctx, cancel := context.WithCancel(b.Context())
	cfg := defaults()
	cfg.Data.Folder, cfg.Pages.Listen = b.TempDir(), "127.0.0.1:0"
	fillDays(b, cfg.Data.Folder, 365)
	p := &parts{}
	h := &house{cfg: cfg, log: slog.New(slog.DiscardHandler), parts: p, setup: dashboards.Setup{}, mute: true}
	var ended sync.WaitGroup
	b.Cleanup(func() {
		cancel()
		ended.Wait()
		var err error
		if p.closeInto(&err); err != nil {
			b.Error(err)
		}
	})
	if err := h.open(ctx, cfg.Data.Folder); err != nil {
		b.Fatal(err)
	}
	furnishYear(b, h.journal)
	link, _, err := h.embedBroker(ctx)
	if err == nil {
		err = h.serve(link)
	}
	if err != nil {
		b.Fatal(err)
	}
	ended.Go(func() {
		if err := p.run(ctx); err != nil && !errors.Is(err, context.Canceled) {
			b.Error(err)
		}
	})
	<-h.hub.Ready()
	y := &year{house: h, client: &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: 200}}, took: map[string][]time.Duration{}}
	pages := h.server(ctx).Handler
	y.server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		start := time.Now()
		pages.ServeHTTP(w, r)
		y.mu.Lock()
		defer y.mu.Unlock()
		y.took[r.URL.Path] = append(y.took[r.URL.Path], time.Since(start))
	}))
	b.Cleanup(y.server.Close)
	b.Cleanup(y.client.CloseIdleConnections)
	y.live(0)
	if err := h.sealer().Due(ctx); err != nil { // as it was each night of that year
		b.Fatal(err)
	}
	return y
}

// fillDays fills a store with so many days of rounds that end a minute ago.
func fillDays(b *testing.B, folder string, days int) {
	b.Helper()
	f, release, err := openFolder(folder)
	if err != nil {
		b.Fatal(err)
	}
	s, err := sqlite.Open(b.Context(), f.readings())
	if err != nil {
		b.Fatal(err)
	}
	const every = 10 * time.Second
	rounds := days * 24 * 360
	from := time.Now().Add(-time.Duration(rounds)*every - time.Minute).Truncate(time.Second)
	batch := make([]sensors.Round, 0, 5000)
	for i := range rounds {
		batch = append(batch, sensors.Round{
			Node: "bench", Boot: "past", Seq: uint64(i + 1), Time: from.Add(time.Duration(i) * every), Uptime: time.Duration(i) * every, ClockSet: true, Readings: ofTheWeek(i),
		})
		if len(batch) == cap(batch) || i == rounds-1 {
			if err := s.Append(b.Context(), "back-room", batch); err != nil {
				b.Fatal(err)
			}
			batch = batch[:0]
		}
	}
	if err := errors.Join(s.Close(), release()); err != nil {
		b.Fatal(err)
	}
}

// furnishYear adds a piece with two coats that went on an hour ago.
func furnishYear(b *testing.B, j *shop.Journal) {
	b.Helper()
	now := time.Now()
	label := drying.Product{Name: "Quiet Harbour colour coat", Family: drying.Waterborne, Kind: "acrylic", Stated: drying.Stated{Air: 23, Humidity: 50, Film: 100}}
	label.Stated.Times[drying.DryToRecoat] = 6 * time.Hour
	product, err := j.PutProduct(b.Context(), label, now)
	if err != nil {
		b.Fatal(err)
	}
	piece, err := j.AddPiece(b.Context(), shop.Piece{Name: "Linen press", Parts: []shop.Part{
		{Name: "doors", Room: "back-room", Probe: demo.DoorProbe}, {Name: "top", Room: "back-room", Probe: demo.TopProbe},
	}}, now)
	if err != nil {
		b.Fatal(err)
	}
	for _, part := range piece.Parts {
		if _, err := j.ApplyCoat(b.Context(), shop.Application{Part: part.ID, Product: product.ID, Applied: now.Add(-time.Hour)}, now); err != nil {
			b.Fatal(err)
		}
	}
}

// live brings the hub a round taken now, unlike the last.
func (y *year) live(n int) {
	readings := ofTheWeek(n)
	readings[0].Value = 18 + 2*math.Mod(float64(n), 2)
	y.house.hub.Deliver(telemetry.Delivery{Room: "back-room", Node: "bench", Stored: func() {}, Rounds: []sensors.Round{{
		Node: "bench", Boot: "live", Seq: uint64(n + 1), Time: time.Now(), Uptime: time.Duration(n+1) * time.Second, ClockSet: true, Readings: readings,
	}}})
}

// yearPhone has Tonight open.
type yearPhone struct{ lines *bufio.Scanner }

func (y *year) phone(b *testing.B) *yearPhone {
	b.Helper()
	answer := y.ask(b, "/events")
	b.Cleanup(func() { _ = answer.Body.Close() })
	p := &yearPhone{bufio.NewScanner(answer.Body)}
	p.changed(b) // the state on opening
	return p
}

func (p *yearPhone) changed(b *testing.B) {
	for p.lines.Scan() {
		if strings.HasPrefix(p.lines.Text(), "event: changed") {
			return
		}
	}
	b.Error("the stream ended: ", p.lines.Err())
}

// get reads a page.
func (y *year) get(b *testing.B, path string) {
	answer := y.ask(b, path)
	if _, err := io.Copy(io.Discard, answer.Body); err != nil || answer.StatusCode != http.StatusOK {
		b.Errorf("%s: %s, %v", path, answer.Status, err)
	}
	_ = answer.Body.Close()
}

func (y *year) ask(b *testing.B, path string) *http.Response {
	request, err := http.NewRequestWithContext(b.Context(), http.MethodGet, y.server.URL+path, nil)
	if err != nil {
		panic(err) // the address is ours
	}
	request.Header.Set("Accept-Encoding", "gzip")
	answer, err := y.client.Do(request)
	if err != nil {
		panic(err) // a server of our own, on loopback
	}
	return answer
}

// report prints what the pages of a path took.
func (y *year) report(b *testing.B, path, name string) {
	y.mu.Lock()
	defer y.mu.Unlock()
	took := y.took[path]
	if len(took) == 0 {
		return
	}
	slices.Sort(took)
	b.ReportMetric(took[len(took)*99/100].Seconds()*1000, name+"-p99-ms")
	b.ReportMetric(took[len(took)/2].Seconds()*1000, name+"-p50-ms")
}

// inUse is what the heap holds after a collection.
func (y *year) inUse() int64 {
	runtime.GC()
	runtime.GC() // the first frees what finalizers hold
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return int64(m.HeapAlloc)
}
