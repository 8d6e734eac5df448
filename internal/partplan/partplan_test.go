package partplan

import (
	"errors"
	"strings"
	"testing"
	"time"

	"recoat/drying"
	"recoat/drying/plan"
	"recoat/internal/shop/schedule"
)

var noon = time.Date(2026, 10, 14, 12, 0, 0, 0, time.UTC)

// paint is two hours to the next coat by its label, three to be sanded, twelve
// to be handled.
func paint() drying.Product {
	p := drying.Product{Name: "Millrace colour", Family: drying.Waterborne, Kind: "acrylic"}
	p.Stated.Air, p.Stated.Humidity, p.Stated.Film = 23, 50, 100
	p.Stated.Times = [drying.StageCount]time.Duration{drying.TackFree: time.Hour, drying.DryToRecoat: 2 * time.Hour, drying.Sandable: 3 * time.Hour, drying.Handle: 12 * time.Hour}
	p.Limits = drying.Limits{AirMin: 10, AirMax: 40, HumidityMax: 85, DewMarginMin: 1, HasFilmForms: true, FilmFormsAbove: 5}
	return p
}

// asLabel is a room that is and stays as the label says.
func asLabel(t *testing.T) plan.Setup {
	t.Helper()
	course := make([]drying.Conditions, 96)
	for i := range course {
		course[i] = drying.Conditions{Air: 23, Humidity: 50, Surface: 23, SurfaceMeasured: true}
	}
	e, err := drying.NewEnsemble(noon, 30*time.Minute, [][]drying.Conditions{course})
	if err != nil {
		t.Fatal(err)
	}
	return plan.Setup{Ensemble: e, Finish: drying.Handle, Hours: plan.Hours{To: 24 * time.Hour, Location: time.UTC}}
}

// press is a press whose doors have three coats to come, with sanding between
// them, and whose carcass is coated once the doors can be handled.
func press() []schedule.Part {
	return []schedule.Part{
		{Number: 1, ID: "p-1.1", Name: "doors", Marks: map[int]schedule.Mark{}, Steps: []schedule.Step{
			{ID: 1, Kind: schedule.Clean},
			{ID: 2, Kind: schedule.Prime, Product: "f-1"},
			{ID: 3, Kind: schedule.Sand, Grits: []int{240}, Waits: []schedule.Wait{{Step: 2, Stage: schedule.At(drying.Sandable)}}},
			{ID: 4, Kind: schedule.Colour, Product: "f-1", Waits: []schedule.Wait{{Step: 2, Stage: schedule.At(drying.DryToRecoat)}}},
			{ID: 5, Kind: schedule.Topcoat, Product: "f-1", Waits: []schedule.Wait{{Step: 4, Stage: schedule.At(drying.DryToRecoat), Times: 2, Until: "no smell"}}},
			{ID: 6, Kind: schedule.Reassemble},
		}},
		{Number: 2, ID: "p-1.2", Name: "carcass", Marks: map[int]schedule.Mark{}, Steps: []schedule.Step{
			{ID: 1, Kind: schedule.Colour, Product: "f-1"},
			{ID: 2, Kind: schedule.Topcoat, Product: "f-1", Waits: []schedule.Wait{{Step: 1, Stage: schedule.At(drying.DryToRecoat)}, {Part: 1, Stage: schedule.At(drying.Handle)}}},
		}},
	}
}

func ask(t *testing.T, parts []schedule.Part, part string) Ask {
	return Ask{
		Parts: parts, Part: part, Start: noon, Work: UsualWork, Room: asLabel(t),
		Product: func(s schedule.Step) (drying.Product, bool) { return paint(), s.Product == "f-1" },
		Look:    func(string) (schedule.Coat, bool) { return schedule.Coat{}, false },
	}
}

func chain(t *testing.T, a Ask) (Plan, plan.Chain) {
	t.Helper()
	p, err := New(a)
	if err != nil {
		t.Fatal(err)
	}
	planner, err := plan.New(p.Setup)
	if err != nil {
		t.Fatal(err)
	}
	return p, planner.Chain(a.Start)
}

// In a room as the label says, the times are the label's own: the primer can be
// sanded after three hours, sanding takes half an hour, the colour coat needs
// twice its two hours, and the topcoat is at handling strength after twelve.
func TestAPartIsPlannedToItsEnd(t *testing.T) {
	p, c := chain(t, ask(t, press(), "p-1.1"))
	if len(p.Coats) != 3 || p.Coats[1].Name != "colour" || len(p.After) != 1 || len(p.Untold) != 1 || !strings.Contains(p.Untold[0], "no smell") {
		t.Fatalf("%+v", p)
	}
	for i, hours := range []float64{0, 3.5, 7.5} {
		if want := noon.Add(time.Duration(hours * float64(time.Hour))); !c.Coats[i].Start.Likely.Equal(want) {
			t.Errorf("coat %d goes on at %v, want %v", i+1, c.Coats[i].Start.Likely, want)
		}
	}
	if want := noon.Add(19*time.Hour + 30*time.Minute); !c.Done.Likely.Equal(want) {
		t.Errorf("done at %v, want %v", c.Done.Likely, want)
	}
}

// A gate of another part whose coats are not on yet is planned with it.
func TestAPartWaitsForAnother(t *testing.T) {
	parts := press()
	p, c := chain(t, ask(t, parts, "p-1.2"))
	if want := noon.Add(19*time.Hour + 30*time.Minute); !c.Coats[1].Start.Likely.Equal(want) || len(p.Untold) != 0 {
		t.Errorf("the topcoat goes on at %v, want %v, when the doors can be handled; %v", c.Coats[1].Start.Likely, want, p.Untold)
	}
	// With the doors' last coat on, the room says when.
	parts[0].Marks = map[int]schedule.Mark{5: {Done: noon.Add(-time.Hour), Coat: "c-9"}}
	a := ask(t, parts, "p-1.2")
	a.Look = func(string) (schedule.Coat, bool) {
		return schedule.Coat{Applied: noon.Add(-time.Hour), Estimates: []drying.Estimate{{Stage: drying.Handle, Likely: noon.Add(30 * time.Hour)}}}, true
	}
	if _, c := chain(t, a); !c.Coats[1].Start.Likely.Equal(noon.Add(30 * time.Hour)) {
		t.Errorf("the topcoat goes on at %v", c.Coats[1].Start.Likely)
	}
	a.Look = func(string) (schedule.Coat, bool) { return schedule.Coat{}, false }
	if p, _ := chain(t, a); len(p.Untold) != 1 || !strings.Contains(p.Untold[0], "doors") {
		t.Errorf("nothing is known of the doors, and it is not told: %v", p.Untold)
	}
}

// What is done is left out, and the coat below says when the first may go on.
func TestAPartIsPlannedFromWhereItStands(t *testing.T) {
	parts := press()
	parts[0].Marks = map[int]schedule.Mark{1: {Done: noon}, 2: {Done: noon.Add(-time.Hour), Coat: "c-1"}}
	a := ask(t, parts, "p-1.1")
	a.Look = func(coat string) (schedule.Coat, bool) {
		return schedule.Coat{Applied: noon.Add(-time.Hour), Estimates: []drying.Estimate{
			{Stage: drying.Sandable, Likely: noon.Add(2 * time.Hour)}, {Stage: drying.DryToRecoat, Likely: noon.Add(time.Hour)},
		}}, coat == "c-1"
	}
	p, err := New(a)
	if err != nil {
		t.Fatal(err)
	}
	if len(p.Coats) != 2 || !p.Opens.Equal(noon.Add(2*time.Hour)) || len(p.Coats[0].Before) != 1 {
		t.Errorf("%d coats, the first from %v: %+v", len(p.Coats), p.Opens, p.Coats)
	}
}

func TestWhatCannotBePlannedIsSaid(t *testing.T) {
	parts := press()
	parts[0].Steps[3].Product = ""
	var missing NoProductError
	if _, err := New(ask(t, parts, "p-1.1")); !errors.As(err, &missing) || missing.Step.ID != 4 {
		t.Errorf("a step without a product: %v", err)
	}
	parts = press()
	parts[1].Marks = map[int]schedule.Mark{2: {Done: noon, Coat: "c-1"}}
	if _, err := New(ask(t, parts, "p-1.2")); !errors.Is(err, ErrDone) {
		t.Errorf("a part that is done: %v", err)
	}
	if _, err := New(ask(t, parts, "p-1.9")); err == nil {
		t.Error("a part that is not there was planned")
	}
}
