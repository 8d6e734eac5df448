package shop

import (
	"errors"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/drying"
	"recoat/internal/quantity"
)

func TestACoatKeepsTheVersionItWasPutOnWith(t *testing.T) {
	j := furnished(t)
	first := apply(t, j, "p-0001.1", evening)
	label := load(t, strings.Replace(quietHarbour, `recoat = "2h"`, `recoat = "4h"`, 1))
	p, err := j.PutProduct(t.Context(), label, evening.Add(time.Hour))
	if err != nil || p.ID != "f-0001" || p.Version != 2 {
		t.Fatalf("%+v, %v", p, err)
	}
	second := apply(t, j, "p-0001.1", evening.Add(2*time.Hour))
	for _, c := range []struct {
		id      string
		version int64
		recoat  time.Duration
	}{{first.ID, 1, 2 * time.Hour}, {second.ID, 2, 4 * time.Hour}} {
		got, err := j.Coat(t.Context(), c.id)
		if err != nil || got.Product.Version != c.version || got.Product.Label.Stated.Times[drying.DryToRecoat] != c.recoat {
			t.Errorf("%s: %+v, %v", c.id, got.Product, err)
		}
	}
	products, err := j.Products(t.Context())
	if err != nil || len(products) != 1 || products[0].Version != 2 {
		t.Errorf("%+v, %v", products, err)
	}
}

func TestEveryProductFileIsKeptAsItIs(t *testing.T) {
	j := open(t, filepath.Join(t.TempDir(), "journal.db"))
	want := map[string]drying.Product{}
	for _, path := range productFiles(t) {
		label, err := LoadProductFile(path)
		if err != nil {
			t.Fatal(err)
		}
		want[label.Name] = label
		for range 2 { // the second time changes nothing
			if p, err := j.PutProduct(t.Context(), label, evening); err != nil || p.Version != 1 {
				t.Errorf("%s: version %d, %v", path, p.Version, err)
			}
		}
	}
	products, err := j.Products(t.Context())
	if err != nil || len(products) != len(want) || len(changes(t, j, 0)) != len(want) {
		t.Fatalf("%d products, %v", len(products), err)
	}
	for _, p := range products {
		if d := cmp.Diff(want[p.Label.Name], p.Label); d != "" {
			t.Error(d)
		}
	}
}

func TestALabelThatStatesWhatWasAssumedIsAnotherVersion(t *testing.T) {
	j := open(t, filepath.Join(t.TempDir(), "journal.db"))
	silent := load(t, strings.Replace(quietHarbour, "film = \"100um\"\n", "", 1))
	stated := load(t, strings.Replace(quietHarbour, "100um", quantity.FormatFilm(silent.Stated.Film), 1))
	for i, label := range []drying.Product{silent, stated, stated, silent} {
		p, err := j.PutProduct(t.Context(), label, evening)
		if want := []int64{1, 2, 2, 3}[i]; err != nil || p.Version != want || p.Label.IsAssumed("stated.film") != label.IsAssumed("stated.film") {
			t.Errorf("put %d: version %d, %v; want %d", i, p.Version, err, want)
		}
	}
}

func TestPutProductRefusesWhatIsNoProduct(t *testing.T) {
	j := open(t, filepath.Join(t.TempDir(), "journal.db"))
	nameless := load(t, quietHarbour)
	nameless.Name = "  "
	for _, p := range []drying.Product{{}, {Name: "Q"}, nameless} {
		if _, err := j.PutProduct(t.Context(), p, evening); !asked(err) {
			t.Errorf("%+v: %v", p, err)
		}
	}
}

func TestApplyCoatKeepsWhatItIsTold(t *testing.T) {
	j := furnished(t)
	a := Application{Part: "p-0001.1", Product: "f-0001", Applied: evening.Add(-time.Hour), Film: 101.6, Method: Brush, Batch: " B7 ", Mix: "5 % water"}
	c, err := j.ApplyCoat(t.Context(), a, evening)
	if err != nil {
		t.Fatal(err)
	}
	kept, err := j.Coat(t.Context(), c.ID)
	if err != nil {
		t.Fatal(err)
	}
	want := Coat{
		ID: "c-0001", PieceID: "p-0001", Piece: "Dresser", Room: "back-room", Applied: a.Applied, Film: 101.6, Method: Brush, Batch: "B7", Mix: "5 % water", Recorded: evening,
		Part:    Part{ID: "p-0001.1", Name: "top", Material: "oak", ThicknessMM: 22, Room: "back-room", Probe: "28-0316a2791b5f"},
		Product: Product{ID: "f-0001", Version: 1, Added: evening, Label: load(t, quietHarbour)},
	}
	if d := cmp.Diff(want, kept); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff(c, kept); d != "" {
		t.Error(d)
	}
}

func TestApplyCoatRefuses(t *testing.T) {
	j := furnished(t)
	if err := j.PlacePart(t.Context(), "p-0001.2", "", "", evening); err != nil {
		t.Fatal(err)
	}
	apply(t, j, "p-0001.1", evening.Add(-time.Hour))
	right := Application{Part: "p-0001.1", Product: "f-0001", Applied: evening, Film: 100}
	for name, c := range map[string]struct {
		change  func(*Application)
		missing bool
		says    string
	}{
		"far future":    {func(a *Application) { a.Applied = evening.Add(16 * time.Minute) }, false, "the time of the coat lies in the future"},
		"unset clock":   {func(a *Application) { a.Applied = time.Unix(60, 0) }, false, "the time of the coat lies before the year 2000"},
		"no time":       {func(a *Application) { a.Applied = time.Time{} }, false, "the time of the coat lies before the year 2000"},
		"thick":         {func(a *Application) { a.Film = 2001 }, false, "the film of 2001 µm cannot be: a wet film has 1 to 2000 µm"},
		"thin":          {func(a *Application) { a.Film = 0.5 }, false, "the film of 0.5 µm cannot be"},
		"negative":      {func(a *Application) { a.Film = -100 }, false, "the film of -100 µm cannot be"},
		"method":        {func(a *Application) { a.Method = "broom" }, false, "the method is none that is known: brush, roller, spray, pad or wipe"},
		"batch":         {func(a *Application) { a.Batch = "a\x00" }, false, "the batch holds the invisible character U+0000"},
		"mix":           {func(a *Application) { a.Mix = strings.Repeat("x", 501) }, false, "the mix has 501 characters: at most 500 fit"},
		"twice":         {func(a *Application) { a.Applied = evening.Add(-time.Hour) }, false, "the coat is recorded already"},
		"out of a room": {func(a *Application) { a.Part = "p-0001.2" }, false, "the part drawer fronts is in no room: say in which it dries"},
		"no part":       {func(a *Application) { a.Part = "p-0001.9" }, true, `no part has the id "p-0001.9"`},
		"part is piece": {func(a *Application) { a.Part = "p-0001" }, true, `"p-0001" is not the id of a part, such as p-0003.2`},
		"no product":    {func(a *Application) { a.Product = "f-0009" }, true, `no product has the id "f-0009"`},
		"product name":  {func(a *Application) { a.Product = "Quiet Harbour" }, true, `"Quiet Harbour" is not the id of a product, such as f-0007`},
	} {
		a := right
		c.change(&a)
		_, err := j.ApplyCoat(t.Context(), a, evening)
		if err == nil || !strings.Contains(err.Error(), c.says) || errors.Is(err, ErrNotFound) != c.missing || asked(err) == c.missing {
			t.Errorf("%s: %v\n want %s", name, err, c.says)
		}
	}
	if _, err := j.ApplyCoat(t.Context(), right, evening); err != nil {
		t.Errorf("as it should be: %v", err)
	}
}

func coatIDsOf(coats []Coat) []string {
	all := []string{}
	for _, c := range coats {
		all = append(all, c.ID)
	}
	return all
}

func TestOpenCoatsAreTheNewestOfEachPart(t *testing.T) {
	j := furnished(t)
	if err := j.AddRoom(t.Context(), Room{ID: "attic", Title: "Attic"}, evening); err != nil {
		t.Fatal(err)
	}
	wantOpen := func(step, room string, want ...string) {
		t.Helper()
		coats, err := j.OpenCoats(t.Context(), room)
		if d := cmp.Diff(append([]string{}, want...), coatIDsOf(coats)); d != "" || err != nil {
			t.Errorf("%s: %s %v", step, d, err)
		}
	}
	wantOpen("no coat", "back-room")
	apply(t, j, "p-0001.1", evening)
	apply(t, j, "p-0001.2", evening)
	wantOpen("one on each part", "back-room", "c-0001", "c-0002")
	apply(t, j, "p-0001.1", evening.Add(3*time.Hour))
	wantOpen("a second on the top", "back-room", "c-0002", "c-0003")
	toldLate := Application{Part: "p-0001.1", Product: "f-0001", Applied: evening.Add(-24 * time.Hour)}
	if _, err := j.ApplyCoat(t.Context(), toldLate, evening.Add(4*time.Hour)); err != nil {
		t.Fatal(err)
	}
	wantOpen("an earlier one, told of late", "back-room", "c-0002", "c-0003")
	if err := j.UndoCoat(t.Context(), "c-0003", evening.Add(3*time.Hour)); err != nil {
		t.Fatal(err)
	}
	wantOpen("the second undone", "back-room", "c-0001", "c-0002")
	if err := j.PlacePart(t.Context(), "p-0001.1", "attic", "", evening.Add(4*time.Hour)); err != nil {
		t.Fatal(err)
	}
	wantOpen("the top moved", "back-room", "c-0002")
	wantOpen("the top moved", "attic", "c-0001")
	wantOpen("no such room", "cellar")
}

func TestUndoCoat(t *testing.T) {
	j := furnished(t)
	c := apply(t, j, "p-0001.1", evening)
	if err := j.UndoCoat(t.Context(), c.ID, evening.Add(time.Minute)); err != nil {
		t.Fatal(err)
	}
	if err := j.UndoCoat(t.Context(), c.ID, evening.Add(time.Hour)); !asked(err) || err.Error() != "undo the coat: the coat c-0001 was undone already" {
		t.Error(err)
	}
	if err := j.UndoCoat(t.Context(), "c-0099", evening); !errors.Is(err, ErrNotFound) {
		t.Error(err)
	}
	kept, err := j.Coat(t.Context(), c.ID)
	if err != nil || !kept.Undone.Equal(evening.Add(time.Minute)) {
		t.Errorf("%+v, %v", kept, err)
	}
	if again := apply(t, j, "p-0001.1", evening); again.ID != "c-0002" {
		t.Errorf("put on again at the same time: %s", again.ID)
	}
}

func TestCoatsPicks(t *testing.T) {
	j := furnished(t)
	if _, err := j.AddPiece(t.Context(), Piece{Name: "Chair", Parts: []Part{{Name: "all", Room: "back-room"}}}, evening); err != nil {
		t.Fatal(err)
	}
	apply(t, j, "p-0001.1", evening)
	apply(t, j, "p-0001.2", evening.Add(time.Hour))
	apply(t, j, "p-0002.1", evening.Add(2*time.Hour))
	apply(t, j, "p-0001.1", evening.Add(3*time.Hour))
	if err := j.UndoCoat(t.Context(), "c-0004", evening.Add(3*time.Hour)); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		filter CoatFilter
		want   []string
	}{
		"all":            {CoatFilter{}, []string{"c-0001", "c-0002", "c-0003"}},
		"undone too":     {CoatFilter{Undone: true}, []string{"c-0001", "c-0002", "c-0003", "c-0004"}},
		"room":           {CoatFilter{Room: "back-room"}, []string{"c-0001", "c-0002", "c-0003"}},
		"no such room":   {CoatFilter{Room: "attic"}, []string{}},
		"piece":          {CoatFilter{Piece: "p-0001"}, []string{"c-0001", "c-0002"}},
		"part":           {CoatFilter{Part: "p-0001.1", Undone: true}, []string{"c-0001", "c-0004"}},
		"from, included": {CoatFilter{From: evening.Add(time.Hour)}, []string{"c-0002", "c-0003"}},
		"to, left out":   {CoatFilter{To: evening.Add(time.Hour)}, []string{"c-0001"}},
	} {
		coats, err := j.Coats(t.Context(), c.filter)
		if got := coatIDsOf(coats); err != nil || !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, %v; want %v", name, got, err, c.want)
		}
	}
	for _, f := range []CoatFilter{{Piece: "Chair"}, {Part: "p-0001"}} {
		if _, err := j.Coats(t.Context(), f); !errors.Is(err, ErrNotFound) {
			t.Errorf("%+v: %v", f, err)
		}
	}
}

func TestTouches(t *testing.T) {
	j := furnished(t)
	c := apply(t, j, "p-0001.1", evening)
	later := evening.Add(2 * time.Hour)
	for _, touch := range []Touch{{Coat: c.ID, At: evening.Add(time.Hour), Feel: Dry}, {Coat: c.ID, At: evening.Add(30 * time.Minute), Feel: Tacky}} {
		if _, err := j.AddTouch(t.Context(), touch, later); err != nil {
			t.Fatal(err)
		}
	}
	touches, err := j.Touches(t.Context(), c.ID)
	want := []Touch{{ID: "t-0002", Coat: c.ID, At: evening.Add(30 * time.Minute), Feel: Tacky}, {ID: "t-0001", Coat: c.ID, At: evening.Add(time.Hour), Feel: Dry}}
	if d := cmp.Diff(want, touches); d != "" || err != nil {
		t.Error(d, err)
	}
	undone := apply(t, j, "p-0001.2", evening)
	if err := j.UndoCoat(t.Context(), undone.ID, later); err != nil {
		t.Fatal(err)
	}
	for says, touch := range map[string]Touch{
		"say wet, tacky or dry":        {Coat: c.ID, At: later, Feel: "soft"},
		"lies in the future":           {Coat: c.ID, At: later.Add(time.Hour), Feel: Dry},
		"before the coat was put on":   {Coat: c.ID, At: evening.Add(-time.Second), Feel: Dry},
		"was undone: there is nothing": {Coat: undone.ID, At: later, Feel: Dry},
		`no coat has the id "c-0099"`:  {Coat: "c-0099", At: later, Feel: Dry},
		`"7" is not the id of a coat`:  {Coat: "7", At: later, Feel: Dry},
	} {
		if _, err := j.AddTouch(t.Context(), touch, later); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%v\n want %s", err, says)
		}
	}
}

func TestPlacePart(t *testing.T) {
	j := furnished(t)
	const probe = "28-0316a2791b5f"
	if err := j.PlacePart(t.Context(), "p-0001.2", "back-room", probe, evening); !asked(err) || !strings.Contains(err.Error(), "is on part p-0001.1 (top): take it off there first") {
		t.Error(err)
	}
	for name, place := range map[string][3]string{
		"no such part": {"p-0009.1", "back-room", ""},
		"no such room": {"p-0001.1", "attic", ""},
	} {
		if err := j.PlacePart(t.Context(), place[0], place[1], place[2], evening); !errors.Is(err, ErrNotFound) {
			t.Errorf("%s: %v", name, err)
		}
	}
	for name, probe := range map[string]string{"spaces": "a probe", "long": strings.Repeat("a", 33)} {
		if err := j.PlacePart(t.Context(), "p-0001.1", "back-room", probe, evening); !asked(err) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := j.PlacePart(t.Context(), "p-0001.1", "", probe, evening); !asked(err) {
		t.Errorf("a probe in no room: %v", err)
	}
	for _, place := range []struct{ part, room, probe string }{
		{"p-0001.1", "back-room", ""},
		{"p-0001.2", "back-room", probe},
		{"p-0001.2", "back-room", probe},
	} {
		if err := j.PlacePart(t.Context(), place.part, place.room, place.probe, evening); err != nil {
			t.Error(err)
		}
	}
	pieces, err := j.Pieces(t.Context())
	if err != nil || pieces[0].Parts[0].Probe != "" || pieces[0].Parts[1].Probe != probe {
		t.Errorf("%+v, %v", pieces, err)
	}
	if n := len(changes(t, j, 3)); n != 2 {
		t.Errorf("%d changes were recorded", n)
	}
}

func TestAddPieceRefuses(t *testing.T) {
	j := furnished(t)
	for name, change := range map[string]func(*Piece){
		"no part":        func(p *Piece) { p.Parts = nil },
		"many parts":     func(p *Piece) { p.Parts = make([]Part, 101) },
		"nameless part":  func(p *Piece) { p.Parts[1].Name = "" },
		"material":       func(p *Piece) { p.Parts[0].Material = "oak\n" + strings.Repeat("k", 200) },
		"thickness":      func(p *Piece) { p.Parts[0].ThicknessMM = -1 },
		"thick as wall":  func(p *Piece) { p.Parts[0].ThicknessMM = 1001 },
		"probe taken":    func(p *Piece) { p.Parts[1].Probe = "28-0316a2791b5f" },
		"probe, no room": func(p *Piece) { p.Parts[0].Room = "" },
	} {
		p := dresser()
		p.Parts[0].Probe = "28-0000000000ff"
		change(&p)
		if _, err := j.AddPiece(t.Context(), p, evening); !asked(err) {
			t.Errorf("%s: %v", name, err)
		}
	}
	p := dresser()
	p.Parts[0].Room = "cellar"
	if _, err := j.AddPiece(t.Context(), p, evening); !errors.Is(err, ErrNotFound) {
		t.Error(err)
	}
	if pieces, err := j.Pieces(t.Context()); err != nil || len(pieces) != 1 {
		t.Errorf("%d pieces, %v", len(pieces), err)
	}
	given := dresser()
	given.Parts[0].Probe = ""
	added, err := j.AddPiece(t.Context(), given, evening)
	if err != nil || added.ID != "p-0002" || added.Parts[1].ID != "p-0002.2" || given.Parts[0].ID != "" {
		t.Errorf("%+v, %v", added, err)
	}
}
