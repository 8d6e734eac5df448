package dashboards

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"recoat/internal/room"
)

// browser is one Chromium with a new profile, and what its pages complained of
// or asked for.
type browser struct {
	ctx      context.Context
	mu       sync.Mutex
	errors   []string
	requests []string
}

func startBrowser(t testing.TB) *browser {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("no chromium on PATH: the pages are not opened in a browser")
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(path), chromedp.UserDataDir(t.TempDir()), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.NoFirstRun, chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true))
	alloc, stopAlloc := chromedp.NewExecAllocator(t.Context(), opts...)
	ctx, stop := chromedp.NewContext(alloc)
	ctx, stopTime := context.WithTimeout(ctx, 10*time.Minute)
	t.Cleanup(func() { stopTime(); stop(); stopAlloc() })
	b := &browser{ctx: ctx}
	if err := chromedp.Listen(ctx, b.heard); err != nil {
		t.Fatalf("start chromium: %v", err)
	}
	command(t, b, network.Enable, network.EnableParams{})
	command(t, b, log.Enable, cdp.Empty{})
	return b
}

// heard takes down what the page's console, its log and its network say.
func (b *browser) heard(event any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch e := event.(type) {
	case *runtime.EventExceptionThrown:
		b.errors = append(b.errors, e.ExceptionDetails.Text)
	case *runtime.EventConsoleAPICalled:
		if e.Type == runtime.ConsoleAPICalledTypeError || e.Type == runtime.ConsoleAPICalledTypeWarning {
			b.errors = append(b.errors, fmt.Sprint(e.Args))
		}
	case *log.EventEntryAdded:
		b.errors = append(b.errors, e.Entry.Text)
	case *network.EventRequestWillBeSent:
		b.requests = append(b.requests, e.Request.URL)
	}
}

func (b *browser) do(t testing.TB, steps ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	if err := chromedp.Do(b.ctx, steps...); err != nil {
		t.Fatalf("browser: %v", err)
	}
}

func command[P, R any](t testing.TB, b *browser, c cdp.Command[P, R], params P) {
	t.Helper()
	if _, err := chromedp.Call(b.ctx, c, params); err != nil {
		t.Fatalf("browser: %s: %v", c.Method, err)
	}
}

func evaluate[T any](t testing.TB, b *browser, script string) T {
	t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](script))
	if err != nil {
		t.Fatalf("browser: %v", err)
	}
	return v
}

// open shows a page at a width, in a theme.
func (b *browser) open(t testing.TB, url string, width int64, theme string) {
	t.Helper()
	command(t, b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: theme}}})
	b.do(t, chromedp.EmulateViewport(width, 900), chromedp.Navigate(url), chromedp.WaitVisible("h1"))
}

// text waits until the page shows every one of the sentences, and returns what
// it shows.
func (b *browser) text(t testing.TB, want ...string) string {
	t.Helper()
	for deadline := time.Now().Add(30 * time.Second); ; time.Sleep(50 * time.Millisecond) {
		text := evaluate[string](t, b, `(document.body?.innerText ?? "").replace(/\s+/g, " ")`)
		missing := missingFrom(text, want)
		if len(missing) == 0 {
			return text
		}
		if time.Now().After(deadline) {
			t.Fatalf("the page never says %q; it says:\n%s", missing, text)
		}
	}
}

func missingFrom(text string, want []string) []string {
	var missing []string
	for _, w := range want {
		if !strings.Contains(text, w) {
			missing = append(missing, w)
		}
	}
	return missing
}

// overflow is by how many pixels the page is wider than the window.
func (b *browser) overflow(t testing.TB) float64 {
	t.Helper()
	return evaluate[float64](t, b, `document.documentElement.scrollWidth - window.innerWidth`)
}

// quiet fails the test if a page complained, or asked anybody but us.
func (b *browser) quiet(t testing.TB, home string) {
	t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(b.errors) > 0 {
		t.Errorf("the pages complained:\n%s", strings.Join(b.errors, "\n"))
	}
	if len(b.requests) == 0 {
		t.Error("no request was seen at all: the check is broken")
	}
	for _, url := range b.requests {
		if strings.HasPrefix(url, "data:image/svg+xml") || strings.HasPrefix(url, "blob:"+home) {
			continue // an icon of the browser's own, such as that of a date field, or a picture that the page made
		}
		if !strings.HasPrefix(url, home) {
			t.Errorf("a page asked for %s, which is not ours", url)
		}
	}
}

// leave closes the page, which may still ask for something, and forgets what it
// asked for.
func (b *browser) leave(t testing.TB) {
	t.Helper()
	b.do(t, chromedp.Navigate("about:blank"))
	b.mu.Lock()
	defer b.mu.Unlock()
	b.requests = nil
}

// serve starts the pages over a house, in the evening of every test.
func serve(t testing.TB, house *fakeHouse) string {
	t.Helper()
	start := time.Now()
	server := httptest.NewServer(New(Options{
		House: house, History: fakeHistory{}, Doings: fakeDoings{}, Told: fakeTold{}, Location: shopZone,
		Book: filledBook(t), Schedules: pressSchedules{},
		Now: func() time.Time { return evening.Add(time.Since(start)) },
	}))
	t.Cleanup(server.Close)
	return server.URL
}

func TestBrowserReadsTonight(t *testing.T) {
	b := startBrowser(t)
	for _, width := range []int64{390, 1440} {
		house := newHouse(twoCoats(evening))
		home := serve(t, house)
		b.open(t, home+"/", width, "light")
		b.text(t,
			"Fit to coat, until about", "Air 19.4 °C, 58 %; dew point 10.9 °C",
			"The coldest surface, Linen press, side, is 5.6 K (± 1.4 K) above it",
			"recoat", "Linen press, doors: sand at 320", "03:25", "Between 02:40 and 04:20",
			"The label and local rules come first; touch decides")
		if wide := b.overflow(t); wide > 0 {
			t.Errorf("at %d px Tonight is %v px too wide", width, wide)
		}
		house.Set(dampRoom(evening))
		b.text(t, "Not fit: the coldest surface is 0.5 K below the dew point", "standing still, not yet dry to recoat")
		house.Set(silentRoom(evening))
		b.text(t, "No verdict: node press-side is silent since 20:12")
		b.quiet(t, home)
		b.leave(t)
	}
}

func TestBrowserReadsRoom(t *testing.T) {
	b := startBrowser(t)
	for _, width := range []int64{390, 1440} {
		house := newHouse(backRoom(evening))
		home := serve(t, house)
		b.open(t, home+"/room/back-room", width, "dark")
		b.text(t, "Fit to coat", "Dew point a surface colder than this gets wet 10.9 °C", "6 hours 1 day 1 week", "Linen press, side 16.5 °C 5.6 K ± 1.4 K 70 %")
		if wide := b.overflow(t); wide > 0 {
			t.Errorf("at %d px Room is %v px too wide", width, wide)
		}
		house.Set(dampRoom(evening))
		b.text(t, "Not fit: the coldest surface", "Linen press, side 7.2 °C")
		b.quiet(t, home)
		b.leave(t)
	}
}

// TestBrowserSaysWhenTheHubIsAway stops the server under an open page.
func TestBrowserSaysWhenTheHubIsAway(t *testing.T) {
	b := startBrowser(t)
	server := httptest.NewServer(New(Options{House: newHouse(backRoom(evening)), Location: shopZone, Now: func() time.Time { return evening }}))
	b.open(t, server.URL+"/", 390, "light")
	b.text(t, "Fit to coat")
	server.CloseClientConnections()
	server.Close()
	b.text(t, "No word from the hub since", "What stands here is not live. It may be old.")
}

// TestBrowserTakesPictures writes what a person should look at to the folder
// named by RECOAT_PICTURES.
func TestBrowserTakesPictures(t *testing.T) {
	folder := os.Getenv("RECOAT_PICTURES")
	if folder == "" {
		t.Skip("RECOAT_PICTURES names no folder to put pictures in")
	}
	attic := silentRoom(evening)
	attic.Room, attic.Title = "attic", "Attic"
	scenes := map[string][]room.Snapshot{
		"two-coats": {twoCoats(evening)}, "empty": {backRoom(evening)}, "unfit": {dampRoom(evening)},
		"silent": {silentRoom(evening)}, "no-room": nil, "two-rooms": {twoCoats(evening), attic},
	}
	for name, rooms := range scenes {
		t.Run(name, func(t *testing.T) { pictures(t, filepath.Join(folder, name), rooms) })
	}
}

// pictures shows rooms at every width in both themes.
func pictures(t *testing.T, file string, rooms []room.Snapshot) {
	b := startBrowser(t)
	home := serve(t, newHouse(rooms...))
	for _, width := range []int64{390, 820, 1440} {
		for _, theme := range []string{"light", "dark"} {
			name := fmt.Sprintf("%s-%s-%d", file, theme, width)
			b.picture(t, home+"/", width, theme, name+".png")
			if len(rooms) > 0 {
				b.picture(t, home+"/room/back-room", width, theme, name+"-room.png")
			}
		}
	}
}

func (b *browser) picture(t testing.TB, url string, width int64, theme, file string) {
	t.Helper()
	b.open(t, url, width, theme)
	b.shot(t, file)
}

// shot takes a picture of the page that is open.
func (b *browser) shot(t testing.TB, file string) {
	t.Helper()
	b.do(t, chromedp.Sleep(300*time.Millisecond))
	png, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, png, 0o644); err != nil {
		t.Fatal(err)
	}
}

// serveHandler starts a server over a handler and returns its address.
func serveHandler(t *testing.T, h http.Handler) string {
	t.Helper()
	server := httptest.NewServer(h)
	t.Cleanup(server.Close)
	return server.URL
}
