package dashboards

import (
	"context"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"recoat/drying"
	"recoat/internal/follow"
	"recoat/internal/shop"
	"recoat/internal/shop/care"
	"recoat/internal/shop/compat"
	"recoat/internal/shop/mix"
	"recoat/internal/shop/schedule"
)

// openBook opens a real journal in a folder of its own.
func openBook(t testing.TB) *shop.Journal {
	t.Helper()
	j, err := shop.OpenJournal(t.Context(), filepath.Join(t.TempDir(), "journal.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := j.Close(); err != nil {
			t.Error(err)
		}
	})
	return j
}

// bookOf is a journal as the pages use it.
func bookOf(j *shop.Journal) Book {
	return Book{Products: j, Shelf: j, Mixes: j, Pieces: j, Parts: j, Steps: j, Coats: j, Adviser: j, Touches: j, Reminders: j, Past: j, News: j}
}

// journalHandler serves the pages over a journal, in the evening of every test.
func journalHandler(j *shop.Journal) http.Handler { return photoHandler(j, nil) }

// photoHandler is the same with a folder for photos.
func photoHandler(j *shop.Journal, photos Photos) http.Handler {
	return New(Options{
		House: newHouse(twoCoats(evening)), Location: shopZone, Compat: compat.NewTable(),
		Book: bookOf(j), Now: func() time.Time { return evening },
		Cards: cardsOf{j}, Photos: photos, Backup: j,
	})
}

// cardsOf makes cards of a journal whose rooms nobody measured.
type cardsOf struct{ journal *shop.Journal }

func (c cardsOf) Card(ctx context.Context, id string, at time.Time) (care.Card, error) {
	return follow.Reader{}.Card(ctx, c.journal, id, at)
}

const home = "http://localhost:8080"

// colourLabel is a label as a finisher types it.
func colourLabel() url.Values {
	return url.Values{
		"name": {"Quiet Harbour colour coat"}, "kind": {"waterborne/acrylic"},
		"stated.air": {"73.4"}, "stated.air-unit": {"F"}, "stated.rh": {"50"}, "stated.rh-unit": {"%"},
		"stated.film": {"4"}, "stated.film-unit": {"mil"}, "stated.touch": {"30"}, "stated.touch-unit": {"m"},
		"stated.recoat": {"2"}, "stated.recoat-unit": {"h"}, "stated.recoat_by": {"3"}, "stated.recoat_by-unit": {"d"},
		"stated.cure": {"21"}, "stated.cure-unit": {"d"}, "limits.air_min": {"10"}, "limits.air_min-unit": {"C"},
	}
}

func TestALabelTypedOnAPhoneIsTheLabelOfAFile(t *testing.T) {
	j := openBook(t)
	h := journalHandler(j)
	w := post(h, "/products", home, colourLabel())
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/products/f-0001?noted=product" {
		t.Fatalf("status %d, to %q: %s", w.Code, w.Header().Get("Location"), prose(w))
	}
	p, err := j.Product(t.Context(), "f-0001")
	if err != nil {
		t.Fatal(err)
	}
	if s := p.Label.Stated; s.Air != 23 || s.Humidity != 50 || s.Film != 101.6 || s.Times[drying.DryToRecoat] != 2*time.Hour || s.RecoatBy != 72*time.Hour {
		t.Errorf("the label says %+v", s)
	}
	if !p.Label.IsAssumed("limits.rh_max") || p.Label.IsAssumed("limits.air_min") {
		t.Errorf("assumed: %v", p.Label.Assumed)
	}
	wantProse(t, get(h, "/products/f-0001"), "Quiet Harbour colour coat", "Recoat after2 h", "Recoat within, or abrade3 days", "Touch dry30 min", "Humidity at most assumed85 %")
	wantProse(t, get(h, "/products"), "Quiet Harbour colour coat", "recoat after 2 h at 23 °C")
	file := get(h, "/products/f-0001/label.toml").Body.String()
	other := openBook(t)
	label, err := shop.LoadProduct(strings.NewReader(file), "file")
	if err != nil {
		t.Fatal(err)
	}
	if again, err := other.PutProduct(t.Context(), label, evening); err != nil || again.Label.Stated != p.Label.Stated || again.Label.Limits != p.Label.Limits {
		t.Errorf("taken from its file: %+v, %v", again.Label, err)
	}
}

func TestAWrongLabelIsToldBesideItsFieldAndKept(t *testing.T) {
	j := openBook(t)
	h := journalHandler(j)
	for name, c := range map[string]struct{ key, value, says string }{
		"no name":             {"name", " ", "Write the name on the can."},
		"no kind":             {"kind", "", "Choose what it is."},
		"no recoat time":      {"stated.recoat", "", "The times need it"},
		"not a number":        {"stated.touch", "soon", "That is no figure: write one such as 2 or 2.5"},
		"window too short":    {"stated.recoat_by", "0.05", "it has to be later than “Recoat after”"},
		"hot label":           {"stated.air", "300", "5 to 40 °C would do"},
		"a cure too short":    {"stated.cure", "0.01", "no stage takes longer than the cure"},
		"limits forbid all":   {"limits.air_min", "30", "which it has to allow"},
		"strange kind":        {"kind", "waterborne/glue", "one of acrylic"},
		"a name turned round": {"name", "Harbour\u202e", "invisible character U&#43;202E"},
	} {
		form := colourLabel()
		form.Set(c.key, c.value)
		w := post(h, "/products", home, form)
		if w.Code != http.StatusUnprocessableEntity {
			t.Errorf("%s: status %d", name, w.Code)
			continue
		}
		beside := "id=\"e-" + c.key + "\">"
		_, after, found := strings.Cut(w.Body.String(), beside)
		said, _, _ := strings.Cut(after, "</p>")
		if !found || !strings.Contains(said, c.says) {
			t.Errorf("%s: beside the field it says %q; the page:\n%s", name, said, prose(w))
		}
		if !strings.Contains(w.Body.String(), `name="stated.film" type="text" value="4"`) {
			t.Errorf("%s: what was typed is lost", name)
		}
	}
	if all, err := j.Products(t.Context()); err != nil || len(all) != 0 {
		t.Errorf("kept all the same: %v, %v", all, err)
	}
}

// A label's table of other conditions is kept, fitted through, and comes back
// into the form, with what says more exactly what the product is.
func TestALabelsTableIsKeptAndFittedThrough(t *testing.T) {
	j := openBook(t)
	h := journalHandler(j)
	form := colourLabel()
	for key, value := range map[string]string{"class": "thin-sealer", "also1.air": "10", "also1.air-unit": "C", "also1.rh": "50", "also1.rh-unit": "%", "also1.recoat": "6", "also1.recoat-unit": "h"} {
		form.Set(key, value)
	}
	if w := post(h, "/products", home, form); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, prose(w))
	}
	p, err := j.Product(t.Context(), "f-0001")
	if err != nil || len(p.Label.Further) != 1 || p.Label.Further[0].Air != 10 || p.Label.Further[0].Times[drying.DryToRecoat] != 6*time.Hour || p.Label.Class != "thin-sealer" {
		t.Fatalf("%+v, %v", p.Label, err)
	}
	wantProse(t, get(h, "/products/f-0001"), "At 10 °C, 50 %recoat after 6 h", "The label gives 1 more times at other conditions.", "thin sealer")
	again := typed(get(h, "/products/f-0001/edit").Body.String())
	again.Set("stated.handle", "12")
	again.Set("stated.handle-unit", "h")
	if w := post(h, "/products/f-0001", home, again); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, prose(w))
	}
	if q, err := j.Product(t.Context(), "f-0001"); err != nil || q.Version != 2 || len(q.Label.Further) != 1 || q.Label.Further[0] != p.Label.Further[0] || q.Label.Class != p.Label.Class {
		t.Errorf("after another correction: %+v, %v", q.Label, err)
	}
	form.Set("also1.air", "")
	if w := post(h, "/products", home, form); w.Code != http.StatusUnprocessableEntity || !strings.Contains(prose(w), "row 1") {
		t.Errorf("a row without its temperature: status %d: %.300s", w.Code, prose(w))
	}
}

func TestACorrectedLabelIsAnotherVersion(t *testing.T) {
	j := openBook(t)
	h := journalHandler(j)
	post(h, "/products", home, colourLabel())
	page := get(h, "/products/f-0001/edit").Body.String()
	if strings.Contains(page, `name="limits.rh_max" type="text" value="8`) || !strings.Contains(page, `name="stated.recoat" type="text" value="2"`) {
		t.Error("the form does not hold what the label says, and only that")
	}
	form := colourLabel()
	form.Set("name", "another name")
	form.Set("stated.recoat", "3")
	if w := post(h, "/products/f-0001", home, form); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, prose(w))
	}
	wantProse(t, get(h, "/products/f-0001"), "Quiet Harbour colour coat", "Version 2 of its label", "Recoat after3 h")
}

func TestACanIsPutOnTheShelfOpenedAndMeasured(t *testing.T) {
	j := openBook(t)
	h := journalHandler(j)
	wantProse(t, get(h, "/shelf"), "A can holds a product: copy its label first.")
	post(h, "/products", home, colourLabel())
	w := post(h, "/shelf", home, url.Values{"product": {"f-0001"}, "amount": {"2,5"}, "amount-unit": {"L"}, "batch": {"B-77"}, "best_by": {"2026-03-15"}, "keeps": {"6"}, "keeps-unit": {"mo"}})
	if w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, prose(w))
	}
	wantProse(t, get(h, "/shelf"), "2.5 L sealed, good until 15 Mar 2026", "Is good until 15 Mar 2026 only.", "batch B-77")
	post(h, "/shelf/s-0001/open", home, nil)
	post(h, "/shelf/s-0001/left", home, url.Values{"left": {"400"}, "left-unit": {"mL"}})
	wantProse(t, get(h, "/shelf"), "400 mL open")
	post(h, "/shelf/s-0001/left", home, url.Values{"left": {"0"}, "left-unit": {"mL"}})
	wantProse(t, get(h, "/shelf"), "Used up (1)")
	for key, value := range map[string]string{"amount": "lots", "product": "", "best_by": "soon", "keeps": "x"} {
		form := url.Values{"product": {"f-0001"}, "amount": {"1"}, "amount-unit": {"L"}, key: {value}}
		if w := post(h, "/shelf", home, form); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), `id="e-`+key+`"`) {
			t.Errorf("%s %q: status %d, and nothing beside it", key, value, w.Code)
		}
	}
}

func TestAMixIsKeptAndScaledExactly(t *testing.T) {
	h := journalHandler(openBook(t))
	w := post(h, "/mixes", home, url.Values{"name": {"Harbour grey"}, "basis": {"volume"}, "part1": {"white"}, "share1": {"1"}, "part2": {"umber"}, "share2": {"1/2"}, "part3": {"black"}, "share3": {"0,25"}})
	if w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, prose(w))
	}
	wantProse(t, get(h, "/mixes/m-0001?amount=0.7"), "For 0.7 mL", "white 1 parts0.4 mL", "umber 1/2 parts0.2 mL", "black 1/4 parts0.1 mL")
	wantProse(t, get(h, "/mixes/m-0001?amount=100"), "about 57.143 (400/7) mL")
	wantProse(t, get(h, "/mixes/m-0001?amount=-3"), "Write an amount above 0")
	for _, form := range []url.Values{
		{"name": {"nothing"}, "basis": {"volume"}},
		{"name": {"zero"}, "basis": {"volume"}, "part1": {"white"}, "share1": {"0"}},
		{"name": {"no basis"}, "part1": {"white"}, "share1": {"1"}},
		{"basis": {"mass"}, "part1": {"white"}, "share1": {"1"}},
		{"name": {"twice"}, "basis": {"mass"}, "part1": {"white"}, "share1": {"1"}, "part2": {"white"}, "share2": {"1"}},
	} {
		if w := post(h, "/mixes", home, form); w.Code != http.StatusUnprocessableEntity {
			t.Errorf("%v: status %d", form, w.Code)
		}
	}
}

// fillShop puts an invented shop into a journal, for pictures.
func fillShop(t testing.TB, j *shop.Journal) {
	t.Helper()
	ctx := context.Background()
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	colour := drying.Product{Name: "Quiet Harbour colour coat", Family: drying.Waterborne, Kind: "acrylic", Stated: drying.Stated{Air: 23, Humidity: 50, Film: 100, RecoatBy: 72 * time.Hour}}
	colour.Stated.Times[drying.DryToRecoat], colour.Stated.Times[drying.SetToTouch] = 2*time.Hour, 30*time.Minute
	stain := drying.Product{Name: "Long Meadow oil stain", Family: drying.Oxidising, Kind: "oil", Stated: drying.Stated{Air: 23, Humidity: 50}}
	stain.Stated.Times[drying.DryToRecoat] = 12 * time.Hour
	c, err := j.PutProduct(ctx, colour, evening)
	must(err)
	st, err := j.PutProduct(ctx, stain, evening)
	must(err)
	_, err = j.AddCan(ctx, shop.Can{Product: c.ID, Batch: "B-77", LeftML: 2500, BestBy: evening.Add(10 * 24 * time.Hour)}, evening)
	must(err)
	_, err = j.AddCan(ctx, shop.Can{Product: st.ID, LeftML: 400, Opened: evening.Add(-40 * 24 * time.Hour), KeepsDays: 180}, evening)
	must(err)
	share := func(s string) mix.Part {
		name, text, _ := strings.Cut(s, "=")
		x, err := mix.ParseShare(text)
		must(err)
		return mix.Part{Name: name, Share: x}
	}
	_, err = j.AddMix(ctx, mix.Recipe{Name: "Harbour grey", Basis: mix.ByVolume, Parts: []mix.Part{share("Quiet Harbour colour coat=3"), share("Lamp black tint=1/4")}}, evening)
	must(err)
}

// fillBench adds a piece with its schedule under way.
func fillBench(t testing.TB, j *shop.Journal) {
	t.Helper()
	ctx := context.Background()
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	must(j.AddRoom(ctx, shop.Room{ID: "back-room", Title: "Back room"}, evening))
	p, err := j.AddPiece(ctx, shop.Piece{
		Name: "Linen press", Note: "Hinges in the tin on the sill.", Client: "For the house on the hill, wanted by Easter.",
		Parts: []shop.Part{{Name: "doors", Material: "pine", ThicknessMM: 22, Room: "back-room", Probe: "28-0000000d0051"}, {Name: "top", Material: "oak", ThicknessMM: 30, Room: "back-room"}, {Name: "drawer fronts", Material: "pine", ThicknessMM: 18, Room: "back-room"}},
	}, evening.Add(-48*time.Hour))
	must(err)
	paint, _ := schedule.FindTemplate("painted-bare")
	oil, _ := schedule.FindTemplate("stain-oil-varnish")
	must(j.SetSchedule(ctx, p.Parts[0].ID, paint.ID, paint.Steps, evening))
	must(j.SetSchedule(ctx, p.Parts[1].ID, oil.ID, oil.Steps, evening))
	must(j.SetSchedule(ctx, p.Parts[2].ID, paint.ID, paint.Steps, evening))
	tick := func(part, step int, ago time.Duration) {
		must(j.TickStep(ctx, p.Parts[part].ID, step, evening.Add(-ago), false, evening))
	}
	coat := func(part int, product string, ago time.Duration, film drying.Microns, method shop.Method) {
		_, err := j.ApplyCoat(ctx, shop.Application{Part: p.Parts[part].ID, Product: product, Applied: evening.Add(-ago), Film: film, Method: method}, evening)
		must(err)
	}
	tick(0, 1, 30*time.Hour)
	tick(0, 2, 29*time.Hour)
	coat(0, "f-0001", 26*time.Hour, 100, shop.Brush)
	tick(0, 4, 6*time.Hour)
	coat(0, "f-0001", 50*time.Minute, 110, shop.Brush)
	tick(1, 1, 5*time.Hour)
	coat(1, "f-0002", 3*time.Hour, 40, shop.Wipe)
	tick(2, 1, 5*time.Hour)
	_, err = j.AddMoisture(ctx, shop.Moisture{Part: p.Parts[1].ID, At: evening.Add(-26 * time.Hour), WoodPct: 9.5, Note: "oak"}, evening)
	must(err)
	_, err = j.AddTouch(ctx, shop.Touch{Coat: "c-0002", At: evening.Add(-20 * time.Minute), Feel: shop.Tacky}, evening)
	must(err)
	film := drying.Microns(120)
	_, err = j.EditCoat(ctx, "c-0002", shop.CoatEdit{Film: &film}, evening)
	must(err)
	_, err = j.AddPiece(ctx, shop.Piece{Name: "Hall chair", Parts: []shop.Part{{Name: "frame", Material: "beech", Room: "back-room"}, {Name: "seat"}}}, evening)
	must(err)
}

// TestBrowserTakesPicturesOfTheJournal writes what a person should look at to
// the folder named by RECOAT_PICTURES.
func TestBrowserTakesPicturesOfTheJournal(t *testing.T) {
	folder := os.Getenv("RECOAT_PICTURES")
	if folder == "" {
		t.Skip("RECOAT_PICTURES names no folder to put pictures in")
	}
	b := startBrowser(t)
	j := openBook(t)
	fillShop(t, j)
	fillBench(t, j)
	server := serveHandler(t, journalHandler(j))
	for name, address := range map[string]string{
		"products": "/products", "product-new": "/products/new?kind=oxidising/alkyd", "product": "/products/f-0001",
		"shelf": "/shelf", "mixes": "/mixes", "mix-new": "/mixes/new", "mix": "/mixes/m-0001?amount=250",
		"tonight": "/", "pieces": "/pieces", "piece-new": "/pieces/new", "piece": "/pieces/p-0001", "piece-edit": "/pieces/p-0001/edit", "part-edit": "/parts/p-0001.2/edit",
		"schedule": "/parts/p-0001.1/schedule", "schedule-new": "/parts/p-0002.1/schedule", "coat-new": "/coats/new?part=p-0001.2", "coat": "/coats/c-0002", "care": "/pieces/p-0001/care", "setup": "/setup",
	} {
		for _, at := range []struct {
			width int64
			theme string
		}{{390, "light"}, {390, "dark"}, {1440, "light"}} {
			b.picture(t, server+address, at.width, at.theme, filepath.Join(folder, "journal-"+name+"-"+at.theme+"-"+strconv.FormatInt(at.width, 10)+".png"))
		}
	}
}
