package dashboards

import (
	"encoding/json"
	"errors"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/drying"
	"recoat/internal/alert"
	"recoat/internal/room"
)

func handler(house *fakeHouse, book Book) http.Handler {
	return New(Options{
		House: house, History: fakeHistory{}, Book: book, Location: shopZone,
		Now: func() time.Time { return evening }, Hosts: []string{"recoat.local"},
	})
}

func get(h http.Handler, target string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(http.MethodGet, target, nil)
	r.Host = "localhost:8080"
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

// post sends a form as a browser does, from a page at origin.
func post(h http.Handler, target, origin string, form url.Values) *httptest.ResponseRecorder {
	r := httptest.NewRequest(http.MethodPost, target, strings.NewReader(form.Encode()))
	r.Host = "localhost:8080"
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Origin", origin)
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

var tags = regexp.MustCompile(`<[^>]*>`)

// prose is what a page says, without its markup.
func prose(w *httptest.ResponseRecorder) string {
	return strings.Join(strings.Fields(tags.ReplaceAllString(w.Body.String(), "")), " ")
}

func wantProse(t *testing.T, w *httptest.ResponseRecorder, want ...string) {
	t.Helper()
	if missing := missingFrom(prose(w), want); len(missing) > 0 {
		t.Errorf("the page does not say %q; it says:\n%s", missing, prose(w))
	}
}

func TestTonightSaysWhatAFinisherReads(t *testing.T) {
	w := get(handler(newHouse(twoCoats(evening)), bookOf(openBook(t))), "/")
	if w.Code != http.StatusOK {
		t.Fatalf("status %d", w.Code)
	}
	wantProse(t, w,
		"Fit to coat, until about 00:45", "Tuesday 21:40 · read 6 s ago",
		"Air 19.4 °C, 58 %; dew point 10.9 °C. The coldest surface, Linen press, side, is 5.6 K (± 1.4 K) above it.",
		"recoat 03:25", "recoat 07:05", "Dry to recoat likely at 03:25, between 02:40 and 04:20.",
		"3 K: under this, do not coat",
		"The room is likely too near its dew point then. Wait for 07:15.",
		"The label gives no time for this", "last time to recoat without abrading",
		"Keep the stove in", "warning, since 21:20",
		"Low Tide oil stain. Oily rags heat themselves",
		"Times are estimates. The label and local rules come first; touch decides.")
}

func TestUnfitRoomSaysWhyAndOffersNoTime(t *testing.T) {
	w := get(handler(newHouse(dampRoom(evening)), Book{}), "/")
	wantProse(t, w,
		"Not fit: the coldest surface is 0.5 K below the dew point; it must be 3 K above it",
		"0.5 K (± 1.4 K) below it: water settles there", "The air is 9.1 °C; the label asks for 10 °C or more.",
		"Linen press, doors (colour 1 of 2): standing still, not yet dry to recoat", "below 8 °C this film does not form",
		"no end in sight")
	if strings.Contains(prose(w), "recoat 03:25") {
		t.Error("a coat that stands still is given a time")
	}
	if strings.Contains(w.Body.String(), "<form") {
		t.Error("without a journal there is a form")
	}
}

func TestSilentRoomHasNoVerdict(t *testing.T) {
	w := get(handler(newHouse(silentRoom(evening)), Book{}), "/")
	wantProse(t, w, "No verdict: node press-side is silent since 20:12", "take it as unfit until it is measured again",
		"Node press-side has been silent since 20:12. Check its power and its network.")
	if strings.Contains(prose(w), "Fit to coat") {
		t.Error("a room that is not measured is called fit")
	}
}

func TestEmptyStatesSayWhatToDo(t *testing.T) {
	wantProse(t, get(handler(newHouse(backRoom(evening)), Book{}), "/"), "Nothing is drying here. Note a coat when you put one on")
	wantProse(t, get(handler(newHouse(), Book{}), "/"), "No room is set up yet", "recoat up --simulate")
	bare := room.Snapshot{Room: "shed", At: evening}
	wantProse(t, get(handler(newHouse(bare), Book{}), "/"), "No verdict: the room is not being measured", "No node has reported from this room yet. Start its agent")
	wantProse(t, get(handler(newHouse(), Book{}), "/nowhere"), "Nothing is here", "Go to Tonight")
}

func TestRoomPageSaysTheStateOfTheAir(t *testing.T) {
	h := handler(newHouse(backRoom(evening)), Book{})
	w := get(h, "/room/back-room?span=1d")
	wantProse(t, w, "Dew point a surface colder than this gets wet10.9 °C", "9.7 g/m³", "10.6 %", "1009 hPa",
		"Temperature, °C", "Linen press, side", "Relative humidity, %", "heard 6 s ago")
	if rows := strings.Count(w.Body.String(), `<th scope="row">Tue`); rows < 10 {
		t.Errorf("the table of a day has %d rows of Tuesday", rows)
	}
	if got := get(h, "/room/cellar").Code; got != http.StatusNotFound {
		t.Errorf("a room that is not there: status %d", got)
	}
}

func TestHistoryThatCannotBeReadIsSaid(t *testing.T) {
	h := New(Options{House: newHouse(backRoom(evening)), History: fakeHistory{errors.New("disk gone")}, Now: func() time.Time { return evening }})
	wantProse(t, get(h, "/room/back-room"), "Fit to coat", "The history cannot be read just now")
	if got := get(h, "/api/rooms/back-room/history").Code; got != http.StatusInternalServerError {
		t.Errorf("status %d", got)
	}
}

func TestHostileNamesAreEscaped(t *testing.T) {
	const evil = `"><script>alert(1)</script>'x=y `
	s := twoCoats(evening)
	s.Room, s.Title = evil, evil
	s.Coats[0].ID, s.Coats[0].Piece, s.Coats[0].Part, s.Coats[0].Product, s.Coats[0].Step = evil, evil, evil, evil, evil
	s.Coats[0].Cautions = []string{evil}
	s.Surfaces[1].Label, s.Surfaces[1].Probe = evil, evil
	s.Verdict.Reasons[0].Text = evil
	s.Alerts[0].Title, s.Alerts[0].Body = evil, evil
	s.Nodes = []room.NodeNow{{Node: evil, Silent: true, Heard: evening}}
	h := handler(newHouse(s), bookOf(openBook(t)))
	for _, target := range []string{"/", "/room/" + url.PathEscape(evil)} {
		w := get(h, target)
		if w.Code != http.StatusOK {
			t.Fatalf("%s: status %d", target, w.Code)
		}
		if strings.Contains(w.Body.String(), "<script>") {
			t.Errorf("%s: markup in a name reaches the page", target)
		}
		if !strings.Contains(w.Body.String(), "&lt;script&gt;") {
			t.Errorf("%s: the name is not shown at all", target)
		}
	}
}

func TestPagesNeedNothingInline(t *testing.T) {
	h := handler(newHouse(twoCoats(evening), dampRoom(evening), silentRoom(evening)), bookOf(openBook(t)))
	inline := regexp.MustCompile(`(?i)<style|\sstyle=|<script(?:[^>]*)>[^<]|\son[a-z]+=`)
	for _, target := range []string{"/", "/room/back-room", "/nowhere"} {
		w := get(h, target)
		if bad := inline.FindString(w.Body.String()); bad != "" {
			t.Errorf("%s holds %q, which its own policy forbids", target, bad)
		}
		want := "default-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; object-src 'none'"
		if got := w.Header().Get("Content-Security-Policy"); got != want {
			t.Errorf("%s: policy %q", target, got)
		}
		if got := w.Header().Get("X-Content-Type-Options"); got != "nosniff" {
			t.Errorf("%s: X-Content-Type-Options %q", target, got)
		}
	}
}

func TestHosts(t *testing.T) {
	h := handler(newHouse(backRoom(evening)), Book{})
	for host, want := range map[string]int{
		"localhost": 200, "LOCALHOST:8080": 200, "localhost.": 200, "127.0.0.1:8080": 200, "[::1]:8080": 200, "[::1]": 200,
		"192.168.4.20:8080": 200, "recoat.local:8080": 200, "Recoat.Local": 200,
		"evil.example": 421, "localhost.evil.example": 421, "recoat.local.evil.example": 421, "127.0.0.1.evil.example:80": 421, "": 421,
	} {
		r := httptest.NewRequest(http.MethodGet, "/", nil)
		r.Host = host
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if w.Code != want {
			t.Errorf("host %q: status %d, want %d", host, w.Code, want)
		}
	}
}

func TestAnAlertIsAcknowledgedOnce(t *testing.T) {
	s := twoCoats(evening)
	s.Alerts = []alert.Episode{
		{ID: "e-1", State: alert.Raised, Title: "Too damp", Since: evening},
		{ID: "e-2", State: alert.Acknowledged, Title: "Node silent", Since: evening},
	}
	var seen []string
	h := New(Options{House: newHouse(s), Location: shopZone, Now: func() time.Time { return evening }, Acknowledge: func(id string) bool {
		seen = append(seen, id)
		return id == "e-1" && len(seen) == 1
	}})
	page := get(h, "/").Body.String()
	if !strings.Contains(page, `action="/alerts/e-1/seen"`) || strings.Contains(page, `action="/alerts/e-2/seen"`) {
		t.Errorf("the buttons of the alerts are wrong:\n%s", page)
	}
	const home = "http://localhost:8080"
	if w := post(h, "/alerts/e-1/seen", home, nil); w.Code != http.StatusSeeOther || !slices.Equal(seen, []string{"e-1"}) {
		t.Errorf("status %d, seen %q", w.Code, seen)
	}
	if w := post(h, "/alerts/e-1/seen", "http://evil.example", nil); w.Code != http.StatusForbidden || len(seen) != 1 {
		t.Errorf("from elsewhere: status %d, seen %q", w.Code, seen)
	}
	if strings.Contains(get(handler(newHouse(s), Book{}), "/").Body.String(), "/seen") {
		t.Error("a button that leads nowhere")
	}
	for _, id := range []string{"e-1", "e-99"} {
		w := post(h, "/alerts/"+id+"/seen", home, nil)
		if w.Code != http.StatusNotFound || strings.Contains(w.Body.String(), "Noted") {
			t.Errorf("%s, seen already or never there: status %d:\n%s", id, w.Code, w.Body)
		}
		wantProse(t, w, "Nothing to acknowledge", "Back to Tonight")
	}
}

func TestASimulatedRoomIsSaidToBeOne(t *testing.T) {
	const notice = "The room, its pieces and its coats are simulated."
	for _, simulated := range []bool{true, false} {
		h := New(Options{House: newHouse(twoCoats(evening)), Location: shopZone, Now: func() time.Time { return evening }, Simulated: simulated})
		for _, page := range []string{"/", "/room/back-room"} {
			if got := strings.Contains(prose(get(h, page)), notice); got != simulated {
				t.Errorf("%s of a room that is simulated (%t) says so: %t", page, simulated, got)
			}
		}
	}
}

func TestAPIKeysEndInTheirUnit(t *testing.T) {
	w := get(handler(newHouse(twoCoats(evening)), Book{}), "/api/rooms")
	if got := w.Header().Get("Content-Type"); got != "application/json" {
		t.Errorf("Content-Type %q", got)
	}
	var got struct {
		Rooms []struct {
			Room  string
			Air   map[string]any
			Coats []struct {
				Applied string  `json:"applied_at"`
				FilmUm  float64 `json:"film_um"`
				Next    string  `json:"next_stage"`
				Stages  []struct {
					Stage string
					Ready string `json:"ready_at"`
				}
			}
			Verdict drying.Verdict
		}
	}
	if err := json.Unmarshal(w.Body.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	r := got.Rooms[0]
	want := map[string]any{
		"read_at": "2026-03-10T21:39:54+01:00", "air_c": 19.4, "rh_pct": 58.0, "dew_point_c": 10.9, "wet_bulb_c": 14.4,
		"pressure_hpa": 1009.0, "absolute_humidity_g_m3": 9.7, "wood_emc_pct": 10.6,
	}
	if diff := cmp.Diff(want, r.Air); diff != "" {
		t.Error(diff)
	}
	if c := r.Coats[0]; c.FilmUm != 100 || c.Next != "dry-to-recoat" || c.Stages[1].Ready != "2026-03-11T03:25:00+01:00" {
		t.Errorf("coat %+v", c)
	}
	if r.Verdict.State != drying.Fit {
		t.Errorf("verdict %v", r.Verdict.State)
	}
	silent := get(handler(newHouse(silentRoom(evening)), Book{}), "/api/rooms").Body.String()
	if !strings.Contains(silent, `"air":null`) || !strings.Contains(silent, `"dew_margin_c":null`) {
		t.Error("what was not measured is not null")
	}
}

func TestHistoryColumnsAreNullInGaps(t *testing.T) {
	w := get(handler(newHouse(backRoom(evening)), Book{}), "/api/rooms/back-room/history?span=6h")
	var h wireHistory
	if err := json.Unmarshal(w.Body.Bytes(), &h); err != nil {
		t.Fatal(err)
	}
	nulls := 0
	for i, v := range h.AirC {
		if v == nil {
			nulls++
			if h.Surfaces[0].SurfaceC[i] != nil || h.RHPct[i] != nil {
				t.Error("a gap of the air is none of its surface")
			}
		}
	}
	if nulls != 1 || len(h.AirC) != len(h.AtS) {
		t.Errorf("%d gaps in %d points at %d instants, want 1", nulls, len(h.AirC), len(h.AtS))
	}
}

func TestAssetsAreKeptForEverByTheirHash(t *testing.T) {
	h := handler(newHouse(backRoom(evening)), Book{})
	address := regexp.MustCompile(`/assets/recoat\.[0-9a-f]{12}\.css`).FindString(get(h, "/").Body.String())
	w := get(h, address)
	if w.Code != http.StatusOK || !strings.Contains(w.Header().Get("Cache-Control"), "immutable") || !strings.HasPrefix(w.Header().Get("Content-Type"), "text/css") {
		t.Errorf("%q: status %d, %v", address, w.Code, w.Header())
	}
	for _, wrong := range []string{"/assets/recoat.css", "/assets/recoat.000000000000.css", "/assets/../dashboards.go", "/assets/"} {
		if w := get(h, wrong); w.Code == http.StatusOK || strings.Contains(w.Header().Get("Cache-Control"), "immutable") {
			t.Errorf("%s: status %d, %q", wrong, w.Code, w.Header().Get("Cache-Control"))
		}
	}
}

func TestHealth(t *testing.T) {
	if w := get(handler(newHouse(), Book{}), "/healthz"); w.Code != http.StatusOK || w.Body.String() != "ok\n" {
		t.Errorf("status %d, %q", w.Code, w.Body)
	}
}
