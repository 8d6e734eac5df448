package dashboards

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"recoat/internal/shop"
	"recoat/internal/shop/photo"
)

// evilName is text that would be markup if it were not escaped.
const evilName = `"><script>alert(1)</script>'x=y`

func TestMarkupInTheJournalIsText(t *testing.T) {
	j := bench(t)
	h := journalHandler(j)
	label := colourLabel()
	label.Set("name", evilName)
	for target, form := range map[string]url.Values{
		"/products": label,
		"/pieces":   {"name": {evilName}, "part1": {evilName}, "material1": {evilName}, "room": {"back-room"}, "note": {evilName}, "client": {evilName}, "template": {"clear-waterborne"}},
		"/mixes":    {"name": {evilName}, "basis": {"volume"}, "part1": {evilName}, "share1": {"1"}},
		"/shelf":    {"product": {"f-0001"}, "amount": {"1"}, "amount-unit": {"L"}, "batch": {evilName}},
	} {
		if w := post(h, target, home, form); w.Code != http.StatusSeeOther {
			t.Fatalf("%s: status %d: %s", target, w.Code, prose(w))
		}
	}
	if w := post(h, "/coats", home, url.Values{"part": {"p-0002.1"}, "product": {"f-0003"}, "note": {evilName}, "batch": {evilName}, "reason": {evilName}}); w.Code != http.StatusSeeOther {
		t.Fatalf("coat: status %d: %s", w.Code, prose(w))
	}
	for _, target := range []string{
		"/", "/products", "/products/f-0003", "/products/f-0003/edit", "/pieces", "/pieces?q=" + url.QueryEscape(evilName), "/pieces/p-0002", "/pieces/p-0002/edit",
		"/pieces/p-0002/care", "/pieces/p-0002/care?file=1", "/parts/p-0002.1/edit", "/parts/p-0002.1/schedule", "/coats/new?part=p-0002.1", "/coats/c-0001", "/shelf", "/mixes", "/mixes/m-0001", "/mixes/m-0001?amount=" + url.QueryEscape(evilName),
		"/coats/new", "/setup", "/pieces/" + url.PathEscape(evilName), "/?noted=" + url.QueryEscape(evilName) + "&of=" + url.QueryEscape(evilName),
	} {
		w := get(h, target)
		if w.Code >= http.StatusInternalServerError {
			t.Errorf("%s: status %d", target, w.Code)
		}
		if strings.Contains(w.Body.String(), "<script>alert") {
			t.Errorf("%s: markup in a name reaches the page", target)
		}
	}
	if card := get(h, "/pieces/p-0002/care").Body.String(); strings.Count(card, "&lt;script&gt;") == 0 {
		t.Error("the card does not show the name at all")
	}
}

// Names that turn text round, or hold what cannot be seen, are refused in words.
func TestTextThatMisleadsIsRefused(t *testing.T) {
	j := bench(t)
	h := journalHandler(j)
	for _, name := range []string{"chair\u202egnp.exe", "a\u0000b", "two\u2028lines", string([]byte{0xff, 0xfe})} {
		w := post(h, "/pieces", home, url.Values{"name": {name}, "part1": {"top"}, "room": {"back-room"}})
		if w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), `value="top"`) {
			t.Errorf("%q: status %d, and what was typed is kept: %t", name, w.Code, strings.Contains(w.Body.String(), `value="top"`))
		}
	}
	// Hebrew and Arabic are names as any other.
	for _, name := range []string{"שולחן", "كرسي"} {
		if w := post(h, "/pieces", home, url.Values{"name": {name}, "part1": {"top"}, "room": {"back-room"}}); w.Code != http.StatusSeeOther {
			t.Errorf("%q: status %d: %s", name, w.Code, prose(w))
		}
	}
}

func TestALongNoteIsRefusedInWords(t *testing.T) {
	j := bench(t)
	h := journalHandler(j)
	long := strings.Repeat("x", 2<<20)
	for target, form := range map[string]url.Values{
		"/pieces":                  {"name": {"chair"}, "part1": {"top"}, "note": {long}},
		"/pieces/p-0001":           {"name": {"chair"}, "note": {long}, "was-note": {""}},
		"/coats":                   {"part": {"p-0001.1"}, "product": {"f-0001"}, "note": {long}},
		"/parts/p-0001.1/schedule": {"kind-1": {"other"}, "words-1": {long}, "order-1": {"1"}},
		"/products":                {"name": {long}},
		"/shelf":                   {"batch": {long}},
		"/mixes":                   {"name": {long}},
	} {
		w := post(h, target, home, form)
		if w.Code != http.StatusRequestEntityTooLarge || !strings.Contains(prose(w), "more than fits") {
			t.Errorf("%s: status %d: %.200s", target, w.Code, prose(w))
		}
	}
	// One that the form takes and the journal does not.
	w := post(h, "/pieces", home, url.Values{"name": {"chair"}, "part1": {"top"}, "note": {strings.Repeat("x", 600)}})
	if w.Code != http.StatusUnprocessableEntity || !strings.Contains(prose(w), "at most 500 fit") {
		t.Errorf("600 characters: status %d: %.300s", w.Code, prose(w))
	}
}

// upload sends a file as a browser does.
func upload(t *testing.T, h http.Handler, target, field string, content []byte) *httptest.ResponseRecorder {
	t.Helper()
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	part, err := form.CreateFormFile(field, "../../etc/evil.png")
	if err == nil {
		_, err = part.Write(content)
	}
	if err != nil || form.Close() != nil {
		t.Fatal("make a form", err)
	}
	r := httptest.NewRequest(http.MethodPost, target, &body)
	r.Host = "localhost:8080"
	r.Header.Set("Content-Type", form.FormDataContentType())
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

func TestOnlyAPhotoIsAPhoto(t *testing.T) {
	j := bench(t)
	folder := photo.Folder(t.TempDir())
	h := photoHandler(j, folder)
	var picture bytes.Buffer
	if err := png.Encode(&picture, image.NewGray(image.Rect(0, 0, 4, 4))); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		content []byte
		says    string
	}{
		"a page":        {[]byte("<html><script>alert(1)</script>"), "is not one"},
		"an SVG":        {[]byte(`<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"/>`), "is not one"},
		"half a photo":  {picture.Bytes()[:len(picture.Bytes())-12], "damaged"},
		"nothing":       {nil, "is not one"},
		"a false start": {append([]byte("\x89PNG\r\n\x1a\n"), make([]byte, 100)...), "is not one"},
	} {
		w := upload(t, h, "/pieces/p-0001/photo", "photo", c.content)
		if w.Code != http.StatusUnprocessableEntity || !strings.Contains(prose(w), c.says) {
			t.Errorf("%s: status %d: %.300s", name, w.Code, prose(w))
		}
	}
	if w := upload(t, h, "/pieces/p-0009/photo", "photo", picture.Bytes()); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("a photo of nothing: status %d", w.Code)
	}
	if w := upload(t, h, "/pieces/p-0001/photo", "photo", picture.Bytes()); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, prose(w))
	}
	p, err := j.Piece(t.Context(), "p-0001")
	if err != nil || p.Photo == "" {
		t.Fatalf("kept %q, %v", p.Photo, err)
	}
	if !strings.Contains(get(h, "/pieces/p-0001").Body.String(), `src="/photos/`+p.Photo+`"`) {
		t.Error("the page does not show the photo")
	}
	if w := get(h, "/photos/"+p.Photo); w.Code != http.StatusOK || w.Header().Get("Content-Type") != "image/png" || !bytes.Equal(w.Body.Bytes(), picture.Bytes()) {
		t.Errorf("the photo comes back with status %d as %s", w.Code, w.Header().Get("Content-Type"))
	}
	for _, name := range []string{"..%2f..%2fjournal.db", "nothing", strings.Repeat("0", 64)} {
		if w := get(h, "/photos/"+name); w.Code != http.StatusNotFound {
			t.Errorf("/photos/%s: status %d", name, w.Code)
		}
	}
}

func TestAProductFileThatIsNoneIsRefused(t *testing.T) {
	j := bench(t)
	h := journalHandler(j)
	for name, content := range map[string]string{
		"no TOML": "<html>", "a missing time": "name = \"x\"\nfamily = \"waterborne\"\n[stated]\nair = \"23C\"\nrh = 50\n", "a word misspelt": "name = \"x\"\nfamly = \"waterborne\"\n",
	} {
		if w := upload(t, h, "/products/file", "file", []byte(content)); w.Code != http.StatusUnprocessableEntity || !strings.Contains(prose(w), "vil.png") {
			t.Errorf("%s: status %d: %.300s", name, w.Code, prose(w))
		}
	}
	good := get(h, "/products/f-0001/label.toml").Body.Bytes()
	if w := upload(t, h, "/products/file", "file", good); w.Code != http.StatusSeeOther {
		t.Errorf("our own file: status %d: %s", w.Code, prose(w))
	}
}

// A schedule whose steps wait for each other is refused by name, and what was
// typed is kept.
func TestAScheduleWithACircleIsRefused(t *testing.T) {
	j := bench(t)
	h := journalHandler(j)
	steps := func(other int) url.Values {
		return url.Values{
			"kind-1": {"colour"}, "order-1": {"10"}, "id-1": {"1"}, fmt.Sprintf("gate%d-1", other): {"handle"},
			"kind-2": {"reassemble"}, "order-2": {"20"}, "id-2": {"2"}, "words-2": {"doors on"},
		}
	}
	if w := post(h, "/parts/p-0001.2/schedule", home, url.Values{"kind-1": {"colour"}, "order-1": {"10"}, "id-1": {"1"}}); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, prose(w))
	}
	if w := post(h, "/parts/p-0001.1/schedule", home, steps(2)); w.Code != http.StatusSeeOther {
		t.Fatalf("a gate: status %d: %s", w.Code, prose(w))
	}
	wantProse(t, get(h, "/pieces/p-0001"), "when part 2 is at handling strength")
	w := post(h, "/parts/p-0001.2/schedule", home, steps(1))
	if w.Code != http.StatusUnprocessableEntity || !strings.Contains(prose(w), "circle") || !strings.Contains(prose(w), "doors") {
		t.Errorf("a circle: status %d: %.400s", w.Code, prose(w))
	}
	if !strings.Contains(w.Body.String(), `value="doors on"`) {
		t.Error("what was typed is lost")
	}
	for name, form := range map[string]url.Values{
		"a kind of its own": {"kind-1": {"polish"}, "order-1": {"10"}},
		"a foolish grit":    {"kind-1": {"sand"}, "grits-1": {"3"}, "order-1": {"10"}},
		"altered waits":     {"kind-1": {"sand"}, "keep-1": {`[{"stage":"molten"}]`}, "order-1": {"10"}},
		"a part of nothing": {"kind-1": {"colour"}, "gate99-1": {"handle"}, "order-1": {"10"}},
	} {
		if w := post(h, "/parts/p-0001.2/schedule", home, form); w.Code != http.StatusUnprocessableEntity {
			t.Errorf("%s: status %d", name, w.Code)
		}
	}
}

// Changing nothing in a schedule's form changes nothing of the schedule.
func TestAScheduleComesBackFromItsFormAsItWas(t *testing.T) {
	j := bench(t)
	h := journalHandler(j)
	for _, template := range templateOptions()[0].Options {
		if w := post(h, "/parts/p-0001.1/template", home, url.Values{"template": {template.ID}}); w.Code != http.StatusSeeOther {
			t.Fatalf("%s: status %d: %s", template.ID, w.Code, prose(w))
		}
		before, err := j.Schedules(t.Context(), "p-0001")
		if err != nil {
			t.Fatal(err)
		}
		if w := post(h, "/parts/p-0001.1/schedule", home, typed(get(h, "/parts/p-0001.1/schedule").Body.String())); w.Code != http.StatusSeeOther {
			t.Fatalf("%s: status %d: %.500s", template.ID, w.Code, prose(w))
		}
		after, err := j.Schedules(t.Context(), "p-0001")
		if err != nil || fmt.Sprintf("%+v", steps(before)) != fmt.Sprintf("%+v", steps(after)) {
			t.Errorf("%s:\nbefore %+v\nafter  %+v, %v", template.ID, steps(before), steps(after), err)
		}
	}
}

func TestTheCareCardHoldsNothingOfTheClient(t *testing.T) {
	j := bench(t)
	h := journalHandler(j)
	client := "pays in cash"
	if _, err := j.EditPiece(t.Context(), "p-0001", shop.PieceEdit{Client: &client}, evening); err != nil {
		t.Fatal(err)
	}
	wantProse(t, get(h, "/pieces/p-0001"), client, "it stays on this machine")
	for _, target := range []string{"/pieces/p-0001/care", "/pieces/p-0001/care?file=1", "/", "/api/rooms", "/pieces"} {
		if w := get(h, target); w.Code != http.StatusOK || strings.Contains(w.Body.String(), client) {
			t.Errorf("%s: status %d, or the note on the client is on it", target, w.Code)
		}
	}
	if w := get(h, "/pieces/p-0001/care?link=javascript:alert(1)"); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("a link of script: status %d", w.Code)
	}
	if w := get(h, "/pieces/p-0009/care"); w.Code != http.StatusNotFound {
		t.Errorf("a card of nothing: status %d", w.Code)
	}
}

func TestSetupLeadsFromNoSensorToTheFirstCoat(t *testing.T) {
	j := openBook(t)
	empty := New(Options{House: newHouse(), Book: bookOf(j), Location: shopZone, Backup: j})
	wantProse(t, get(empty, "/setup"), "From no sensor to the first coat:", "A sensor in the room to do", "recoat sensors list", "Copy a label", "Add a piece", "Note a coat", "None: alerts go to the log of this machine alone", "No file was named")
	full := New(Options{House: newHouse(twoCoats(evening)), Book: bookOf(bench(t)), Location: shopZone, Setup: Setup{File: "recoat.toml", Channels: []string{"mail"}, Hub: "north", Rooms: []string{"back-room", "loft"}}})
	wantProse(t, get(full, "/setup"), "All of it is set up.", "This hub is called north and has 2 rooms of its own: back-room, loft.", "press-side gives all that it has", "mail")
	if w := get(empty, "/setup/journal.json"); w.Code != http.StatusOK || !strings.HasPrefix(w.Body.String(), `{"format":"recoat journal"`) {
		t.Errorf("the backup: status %d: %.100s", w.Code, w.Body)
	}
}
