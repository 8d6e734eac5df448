package dashboards

import (
	"encoding/json"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"recoat/internal/room"
)

// longNames is a room whose names are as long as the journal takes, unbroken.
func longNames() room.Snapshot {
	s := twoCoats(evening)
	long := strings.Repeat("Schellackmöbel", 6)
	s.Title = long
	for i := range s.Coats {
		s.Coats[i].Piece, s.Coats[i].Part, s.Coats[i].Product = long, long, long
	}
	s.Coats = append(s.Coats, s.Coats[0], s.Coats[1])
	return s
}

// The whole wall is in sight without scrolling, whatever things are called; what
// matters most can be read at four metres.
func TestBrowserWallIsOneScreen(t *testing.T) {
	b := startBrowser(t)
	for name, s := range map[string]room.Snapshot{"usual": twoCoats(evening), "long": longNames(), "silent": silentRoom(evening)} {
		home := serve(t, newHouse(s))
		for _, size := range [][2]int64{{1280, 800}, {1920, 1080}, {800, 1280}} {
			b.do(t, chromedp.EmulateViewport(size[0], size[1]), chromedp.Navigate(home+"/wall"), chromedp.WaitVisible("h1"))
			if over := evaluate[float64](t, b, `Math.max(document.documentElement.scrollWidth - innerWidth, document.documentElement.scrollHeight - innerHeight)`); over > 0 {
				t.Errorf("%s at %v is %v px too large", name, size, over)
			}
			// A ten-inch tablet has 0.17 mm to a pixel at 1280 × 800; capitals are
			// some 0.7 of the size. Ten minutes of arc at four metres are 11.6 mm:
			// twice what a sharp eye resolves (from memory, as in ISO 9241-303).
			if size[0] == 1280 && name == "usual" {
				for _, what := range []string{".wall h1", ".wall-rows b"} {
					px := evaluate[float64](t, b, `parseFloat(getComputedStyle(document.querySelector(`+quote(what)+`)).fontSize)`)
					if mm := px * 0.17 * 0.7; mm < 11.6 {
						t.Errorf("%s is %.1f mm high", what, mm)
					}
				}
			}
			if folder := os.Getenv("RECOAT_PICTURES"); folder != "" {
				b.shot(t, filepath.Join(folder, "wall-"+name+"-"+number(float64(size[0]), 0)+".png"))
			}
		}
	}
}

func TestWallDimsAtNight(t *testing.T) {
	for hour, dim := range map[int]bool{20: false, 21: true, 3: true, 6: false} {
		at := time.Date(2026, 3, 11, hour, 30, 0, 0, shopZone)
		if got := shopWords.wall(twoCoats(at), at).Dim; got != dim {
			t.Errorf("at %d:30 the wall is dimmed: %v", hour, got)
		}
	}
}

func TestWallOfEachRoom(t *testing.T) {
	attic := silentRoom(evening)
	attic.Room, attic.Title = "attic", "Attic"
	h := handler(newHouse(twoCoats(evening), attic), Book{})
	wantProse(t, get(h, "/wall"), "Fit until 00:45", "Attic: unknown")
	wantProse(t, get(h, "/wall/attic"), "No verdict", "Back room: fit")
	if w := get(h, "/wall/cellar"); w.Code != http.StatusNotFound {
		t.Errorf("no such room: status %d", w.Code)
	}
	if page := get(h, "/wall").Body.String(); strings.Contains(page, "<form") || strings.Contains(page, "<button") {
		t.Error("something can be changed from the wall")
	}
}

func TestManifestNamesAnIconThatIsThere(t *testing.T) {
	h := handler(newHouse(backRoom(evening)), Book{})
	var m manifest
	if err := json.Unmarshal(get(h, "/manifest.webmanifest").Body.Bytes(), &m); err != nil {
		t.Fatal(err)
	}
	if w := get(h, m.Icons[0].Source); w.Code != http.StatusOK || w.Header().Get("Content-Type") != "image/svg+xml" {
		t.Errorf("%s: status %d, %v", m.Icons[0].Source, w.Code, w.Header())
	}
	if m.Start != "/" || m.Display != "standalone" {
		t.Errorf("%+v", m)
	}
}

// The near ones come first, so that a coat that waits for days hides none of them.
func TestTheWallIsInOrderOfTime(t *testing.T) {
	s := twoCoats(evening)
	near, far, stands := s.Coats[0], s.Coats[1], dampRoom(evening).Coats[0]
	near.ID, far.ID, stands.ID = "near", "far", "stands"
	first, _ := awaited(near)
	if second, _ := awaited(far); !first.Likely.Before(second.Likely) {
		near, far = far, near
	}
	got := bySoonest([]room.CoatNow{stands, far, near})
	if got[0].ID != near.ID || got[1].ID != far.ID || got[2].ID != "stands" {
		t.Errorf("%s, %s, %s", got[0].ID, got[1].ID, got[2].ID)
	}
}
