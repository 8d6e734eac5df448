package dashboards

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// tour is each picture of TOUR.md: what a window of that size shows.
var tour = []struct {
	name, address string
	width, height int64
	theme         string
}{
	{"tonight", "/", 390, 844, "light"},
	{"night", "/", 390, 844, "dark"},
	{"room", "/room/back-room?span=1d", 820, 900, "light"},
	{"plan", "/plan", 820, 1000, "light"},
	{"wall", "/wall", 1280, 800, "dark"},
	{"piece", "/pieces/p-0001", 390, 844, "light"},
	{"whence", "/coats/c-0002#from-dry-to-recoat", 390, 1150, "light"},
	{"setup", "/setup", 390, 844, "light"},
}

// TestBrowserTakesTheTour writes the pictures of TOUR.md to the folder named by
// RECOAT_PICTURES.
func TestBrowserTakesTheTour(t *testing.T) {
	folder := os.Getenv("RECOAT_PICTURES")
	if folder == "" {
		t.Skip("RECOAT_PICTURES names no folder to put pictures in")
	}
	b := startBrowser(t)
	home := serve(t, newHouse(whenceRoom(t)))
	b.open(t, home+"/", 390, "light")
	b.do(t, chromedp.Click(chromedp.CSS(".rags form button")), chromedp.WaitVisible("body:not(:has(.rags)) h1"))
	for _, p := range tour {
		b.open(t, home+p.address, p.width, p.theme)
		b.do(t, chromedp.EmulateViewport(p.width, p.height), chromedp.Sleep(400*time.Millisecond))
		png, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(folder, "tour-"+p.name+".png"), png, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// TestTourShowsWhatIsThere follows each picture and each link to a file that the
// tour has.
func TestTourShowsWhatIsThere(t *testing.T) {
	text, err := os.ReadFile("TOUR.md")
	if err != nil {
		t.Fatal(err)
	}
	links := regexp.MustCompile(`(?:\]\(|src=")([^)"#:]+)`).FindAllStringSubmatch(string(text), -1)
	if len(links) < len(tour) {
		t.Fatalf("the tour leads to %d files, fewer than it has pictures", len(links))
	}
	for _, l := range links {
		if _, err := os.Stat(l[1]); err != nil {
			t.Errorf("the tour leads to %s, which is not there: %v", l[1], err)
		}
	}
}

// What the tour calls by name in italics stands so on some page.
func TestTourNamesWhatThePagesSay(t *testing.T) {
	text, err := os.ReadFile("TOUR.md")
	if err != nil {
		t.Fatal(err)
	}
	home := serveAll(t, newHouse(whenceRoom(t)))
	var pages strings.Builder
	for _, address := range append(addresses(), "/coats/c-0002", "/sensors") {
		pages.WriteString(plain(fetch(t, home+address)) + "\n")
	}
	j := openBook(t) // the pieces of a journal that makes care cards
	fillShop(t, j)
	fillBench(t, j)
	pages.WriteString(prose(get(journalHandler(j), "/pieces/p-0001")))
	names := regexp.MustCompile(`\*([^*\n]+(?:\n[^*\n]+)?)\*`).FindAllStringSubmatch(string(text), -1)
	if len(names) < 25 {
		t.Fatalf("the tour names %d things: the check is broken", len(names))
	}
	for _, n := range names {
		if name := strings.Join(strings.Fields(n[1]), " "); !strings.Contains(pages.String(), name) {
			t.Errorf("the tour speaks of %q, which no page says", name)
		}
	}
}

// The five questions of TOUR.md are answered on the first screen of a phone: in
// sight without scrolling, and not under the bar.
func TestBrowserAnswersWithinOneScreen(t *testing.T) {
	b := startBrowser(t)
	home := serve(t, newHouse(plannedRoom(t)))
	b.open(t, home+"/", 390, "light")
	b.do(t, chromedp.Click(chromedp.CSS(".rags form button")), chromedp.WaitVisible("body:not(:has(.rags)) h1")) // as the finisher does first
	b.open(t, home+"/", 390, "light")
	b.do(t, chromedp.EmulateViewport(390, 844))
	for question, where := range map[string]string{
		"may I coat now": "h1", "why": "p.why", "what do I do next": "p.next",
		"when is the first coat ready": ".bars li:nth-child(1) .bar", "how sure is that": ".bars li:nth-child(1) .bar-detail",
		"when is the second coat ready": ".bars li:nth-child(2) .bar",
	} {
		if hidden := evaluate[float64](t, b, `document.querySelector("`+where+`").getBoundingClientRect().bottom - document.querySelector(".pages").getBoundingClientRect().top`); hidden > 0 {
			t.Errorf("%s: %s ends %v px too low", question, where, hidden)
		}
	}
}
