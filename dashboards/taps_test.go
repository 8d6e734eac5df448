package dashboards

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"recoat/drying"
	"recoat/internal/shop"
)

// bench is a journal with a room, a product and a piece of two parts.
func bench(t *testing.T) *shop.Journal {
	t.Helper()
	j := openBook(t)
	if err := j.AddRoom(t.Context(), shop.Room{ID: "back-room", Title: "Back room"}, evening); err != nil {
		t.Fatal(err)
	}
	label := drying.Product{Name: "Quiet Harbour colour coat", Family: drying.Waterborne, Kind: "acrylic", Stated: drying.Stated{Air: 23, Humidity: 50}}
	label.Stated.Times[drying.DryToRecoat] = 2 * time.Hour
	if _, err := j.PutProduct(t.Context(), label, evening); err != nil {
		t.Fatal(err)
	}
	stain := drying.Product{Name: "Long Meadow oil stain", Family: drying.Oxidising, Kind: "oil", Stated: drying.Stated{Air: 23, Humidity: 50}}
	stain.Stated.Times[drying.DryToRecoat] = 12 * time.Hour
	if _, err := j.PutProduct(t.Context(), stain, evening); err != nil {
		t.Fatal(err)
	}
	_, err := j.AddPiece(t.Context(), shop.Piece{Name: "Linen press", Parts: []shop.Part{{Name: "doors", Room: "back-room"}, {Name: "top", Material: "oak", ThicknessMM: 22, Room: "back-room"}}}, evening)
	if err != nil {
		t.Fatal(err)
	}
	return j
}

// send posts a form as the script of the taps does.
func send(h http.Handler, target string, form url.Values) *httptest.ResponseRecorder {
	r := httptest.NewRequest(http.MethodPost, target, strings.NewReader(form.Encode()))
	r.Host = "localhost:8080"
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Accept", "application/json")
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

func coats(t *testing.T, j *shop.Journal) []shop.Coat {
	t.Helper()
	all, err := j.Coats(t.Context(), shop.CoatFilter{})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func TestACoatIsOneTap(t *testing.T) {
	j := bench(t)
	h := journalHandler(j)
	w := post(h, "/coats", home, url.Values{"part": {"p-0001.1"}, "product": {"f-0001"}, "film": {"90,5"}, "film-unit": {"um"}, "method": {"brush"}})
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/?noted=coat&of=c-0001" {
		t.Fatalf("status %d, to %q: %s", w.Code, w.Header().Get("Location"), prose(w))
	}
	c := coats(t, j)[0]
	if c.Film != 90.5 || !c.Applied.Equal(evening) || c.Room != "back-room" || c.Method != shop.Brush {
		t.Errorf("noted %+v", c)
	}
	page := get(h, "/?noted=coat&of=c-0001")
	wantProse(t, page, "The coat is noted.", "Undo")
	if !strings.Contains(page.Body.String(), `action="/coats/c-0001/undo"`) {
		t.Error("it cannot be taken back")
	}
	// The next one is offered with the same film and method.
	wantProse(t, page, "Quiet Harbour colour coat: 90.5 µm wet, by brush, as last time", "Coat on now")
	if w := post(h, "/coats/c-0001/undo", home, nil); w.Code != http.StatusSeeOther || len(coats(t, j)) != 0 {
		t.Errorf("undo: status %d, %d coats", w.Code, len(coats(t, j)))
	}
}

func TestATapThatComesLateAndTwiceCountsOnceAtItsTime(t *testing.T) {
	j := bench(t)
	h := journalHandler(j)
	made := evening.Add(-3 * time.Hour)
	form := url.Values{"part": {"p-0001.1"}, "product": {"f-0001"}, "tap": {"0123456789abcdef"}, "made": {made.Format(time.RFC3339)}}
	for range 3 {
		if w := send(h, "/coats", form); w.Code != http.StatusOK || !strings.Contains(w.Body.String(), `"undo":"/coats/c-0001/undo"`) {
			t.Fatalf("status %d: %s", w.Code, w.Body)
		}
	}
	if all := coats(t, j); len(all) != 1 || !all[0].Applied.Equal(made) || !all[0].Recorded.Equal(evening) {
		t.Errorf("noted %+v", all)
	}
	touch := url.Values{"found": {"tacky"}, "tap": {"fedcba9876543210"}, "made": {made.Add(time.Hour).Format(time.RFC3339)}}
	for range 2 {
		if w := send(h, "/coats/c-0001/touches", touch); w.Code != http.StatusOK {
			t.Fatalf("touch: status %d: %s", w.Code, w.Body)
		}
	}
	touches, err := j.Touches(t.Context(), "c-0001")
	if err != nil || len(touches) != 1 || !touches[0].At.Equal(made.Add(time.Hour)) {
		t.Errorf("touches %+v, %v", touches, err)
	}
	// A clock ahead of ours makes no coat of tomorrow.
	form.Set("tap", "00000000000000ff")
	form.Set("made", evening.Add(time.Hour).Format(time.RFC3339))
	form.Set("part", "p-0001.2")
	if w := send(h, "/coats", form); w.Code != http.StatusOK || !coats(t, j)[1].Applied.Equal(evening) {
		t.Errorf("status %d: %s; %+v", w.Code, w.Body, coats(t, j))
	}
}

func TestTapsRefuse(t *testing.T) {
	good := url.Values{"part": {"p-0001.1"}, "product": {"f-0001"}}
	with := func(key, value string) url.Values {
		return url.Values{"part": {"p-0001.1"}, "product": {"f-0001"}, key: {value}}
	}
	for name, c := range map[string]struct {
		target, origin string
		form           url.Values
		status         int
		says           string
	}{
		"a page elsewhere":    {"/coats", "http://evil.example", good, 403, ""},
		"another port":        {"/coats", "http://localhost:9999", good, 403, ""},
		"no part":             {"/coats", home, with("part", ""), 422, "Choose the part."},
		"a part from nowhere": {"/coats", home, with("part", "p-0009.1"), 422, "no part has the id"},
		"film without sense":  {"/coats", home, with("film", "thick"), 422, "A wet film has 1 to 2000 µm"},
		"film too thick":      {"/coats", home, with("film", "2001um"), 422, "A wet film has 1 to 2000 µm"},
		"an area and no can":  {"/coats", home, with("area", "2m2"), 422, "gives the film only together with the amount used"},
		"a foolish tap":       {"/coats", home, with("tap", "x y"), 422, "is not 8 to 64 letters"},
		"a form too long":     {"/coats", home, with("note", strings.Repeat("x", maxForm)), 413, "more than fits"},
		"no such touch":       {"/coats/c-0001/touches", home, url.Values{"found": {"sticky"}}, 422, "wet, tacky or dry"},
		"touch from outside":  {"/coats/c-0001/touches", "http://evil.example", url.Values{"found": {"dry"}}, 403, ""},
		"nothing to be noted": {"/nowhere", home, good, 405, ""},
	} {
		j := bench(t)
		w := post(journalHandler(j), c.target, c.origin, c.form)
		if w.Code != c.status || !strings.Contains(prose(w), c.says) {
			t.Errorf("%s: status %d, want %d; says %.400s", name, w.Code, c.status, prose(w))
		}
		if len(coats(t, j)) > 0 {
			t.Errorf("%s: noted all the same", name)
		}
	}
}

func TestAFaultOfTheJournalIsNotTheFinishersToRead(t *testing.T) {
	j := bench(t)
	h := journalHandler(j)
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	w := post(h, "/coats", home, url.Values{"part": {"p-0001.1"}, "product": {"f-0001"}})
	if w.Code != http.StatusInternalServerError {
		t.Errorf("status %d", w.Code)
	}
	wantProse(t, w, "Not noted", "The journal could not take it. The log says why")
	if w := send(h, "/coats/c-0001/touches", url.Values{"found": {"dry"}}); w.Code != http.StatusInternalServerError || strings.Contains(w.Body.String(), "sql") {
		t.Errorf("status %d: %s", w.Code, w.Body)
	}
	wantProse(t, get(h, "/"), "The journal cannot be read just now")
}

func TestGetChangesNothing(t *testing.T) {
	j := bench(t)
	h := journalHandler(j)
	for _, target := range []string{"/coats?part=p-0001.1&product=f-0001", "/coats/c-0001/touches?found=dry", "/coats/c-0001/undo", "/archive/p-0001"} {
		if w := get(h, target); w.Code != http.StatusNotFound {
			t.Errorf("GET %s: status %d", target, w.Code)
		}
	}
	if len(coats(t, j)) > 0 {
		t.Error("a GET was noted")
	}
}

// The model answers a touch test: as reckoned, sooner, or later.
func TestATouchTestIsAnswered(t *testing.T) {
	s := backRoom(evening)
	c := doors(evening)
	c.ID = "c-0001"
	c.Estimates = append(c.Estimates, drying.Estimate{Stage: drying.TackFree, Likely: evening.Add(40 * time.Minute)})
	s.Coats = append(s.Coats, c)
	for feel, want := range map[string]string{
		"wet":   "Still wet, though set to touch was reckoned for about 21:35. The times move back.",
		"tacky": "Still tacky, as reckoned: tack-free at about 22:20.",
		"dry":   "Dry to the touch, sooner than reckoned: tack-free was expected at about 22:20. The times move up.",
	} {
		j := bench(t)
		if _, err := j.ApplyCoat(t.Context(), shop.Application{Part: "p-0001.1", Product: "f-0001", Applied: evening.Add(-50 * time.Minute)}, evening); err != nil {
			t.Fatal(err)
		}
		h := New(Options{House: newHouse(s), Book: bookOf(j), Location: shopZone, Now: func() time.Time { return evening }})
		if w := send(h, "/coats/c-0001/touches", url.Values{"found": {feel}}); w.Code != http.StatusOK || !strings.Contains(w.Body.String(), want) {
			t.Errorf("%s: status %d: %s", feel, w.Code, w.Body)
		}
	}
}

func TestAnOilyCoatAsksForItsRagsUntilTheyAreTicked(t *testing.T) {
	j := bench(t)
	h := journalHandler(j)
	post(h, "/coats", home, url.Values{"part": {"p-0001.2"}, "product": {"f-0002"}})
	for _, page := range []string{"/", "/pieces/p-0001"} {
		wantProse(t, get(h, page), "Oily rags: Linen press, top. They can catch fire by themselves within hours")
	}
	if w := post(h, "/coats/c-0001/rags", home, nil); w.Code != http.StatusSeeOther {
		t.Errorf("status %d", w.Code)
	}
	if strings.Contains(prose(get(h, "/")), "Oily rags: ") {
		t.Error("they were ticked, and are asked for still")
	}
}
