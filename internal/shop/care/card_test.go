package care

import (
	"encoding/json"
	"math/big"
	"slices"
	"strings"
	"testing"
	"time"

	"recoat/drying"
	"recoat/internal/shop"
	"recoat/internal/shop/mix"
	"recoat/internal/shop/schedule"
)

var evening = time.Date(2026, 3, 1, 21, 30, 0, 0, time.UTC)

const day = 24 * time.Hour

func product(t *testing.T, family drying.Family, kind string, cure time.Duration) shop.Product {
	t.Helper()
	p := drying.Product{Name: "Long Meadow " + kind, Family: family, Kind: kind, Stated: drying.Stated{Air: 23, Humidity: 50}}
	p.Stated.Times[drying.DryToRecoat], p.Stated.Times[drying.Cured] = 4*time.Hour, cure
	p, err := p.Complete()
	if err != nil {
		t.Fatal(err)
	}
	return shop.Product{ID: "f-0001", Label: p}
}

// story is a press with oiled doors, an acrylic top in a mix, and bare sides.
func story(t *testing.T) Story {
	t.Helper()
	piece := shop.Piece{Name: "Linen press", Client: "pays in cash", Parts: []shop.Part{{ID: "p-0001.1", Name: "doors", Material: "pine"}, {ID: "p-0001.2", Name: "top"}, {ID: "p-0001.3", Name: "sides"}}}
	oil, acrylic := product(t, drying.Oxidising, "oil", 14*day), product(t, drying.Waterborne, "acrylic", 0)
	grey := shop.Mix{ID: "m-0001", Recipe: mix.Recipe{Name: "Harbour grey", Basis: mix.ByVolume, Parts: []mix.Part{{Name: "base", Share: big.NewRat(3, 1)}, {Name: "black", Share: big.NewRat(1, 1)}}}}
	return Story{
		Piece: piece, Mixes: []shop.Mix{grey}, Now: evening.Add(2 * day),
		Coats: []shop.Coat{
			{ID: "c-0001", Part: piece.Parts[0], Product: oil, Applied: evening},
			{ID: "c-0002", Part: piece.Parts[1], Product: acrylic, Applied: evening, Recipe: "m-0001"},
			{ID: "c-0003", Part: piece.Parts[2], Product: acrylic, Applied: evening, Undone: evening},
		},
		Look: func(id string) (schedule.Coat, bool) {
			at := map[string]int{"c-0001": 16, "c-0002": 20}[id]
			likely := evening.Add(time.Duration(at) * day)
			return schedule.Coat{Applied: evening, Estimates: []drying.Estimate{{Stage: drying.Cured, Likely: likely, Low: likely.Add(-3 * day), High: likely.Add(5 * day)}}}, at > 0
		},
	}
}

func TestACard(t *testing.T) {
	c := New(story(t))
	if len(c.Parts) != 3 || len(c.Parts[0].Layers) != 1 || c.Parts[0].Layers[0].Sort != "oil-based, oil" || c.Parts[1].Layers[0].Mix != "Harbour grey" || len(c.Parts[2].Layers) != 0 {
		t.Errorf("what is on it: %+v", c.Parts)
	}
	if !c.Cure.Known || c.Cure.Done || !c.Cure.High.Equal(evening.Add(25*day)) || !strings.HasPrefix(c.Cure.Text, "Treat it as not yet cured until 26 March 2026; likely it is from 21 March 2026 on. No label gives a time") {
		t.Errorf("the cure: %+v", c.Cure)
	}
	if len(c.TouchUps) != 1 || c.TouchUps[0].Amount != "50 mL" || c.TouchUps[0].Parts[0].Amount != "37.5 mL" || c.TouchUps[0].Parts[1].Amount != "12.5 mL" {
		t.Errorf("the touch-up: %+v", c.TouchUps)
	}
	all := strings.Join(slices.Concat(c.Until, c.After, c.Cautions, c.Unknown), "\n")
	for _, want := range []string{"rags", "oil it again thinly", "leave doors and drawers", "strippers", "“sides” was not recorded", "safe for food", "label and local rules"} {
		if !strings.Contains(all+c.First, want) {
			t.Errorf("it does not say %q:\n%s", want, all)
		}
	}
	text, err := json.Marshal(c)
	if err != nil || strings.Contains(string(text), "cash") {
		t.Errorf("the note on the client is on the card: %s, %v", text, err)
	}
}

func TestTheCureOnACard(t *testing.T) {
	s := story(t)
	s.Now = evening.Add(40 * day)
	if c := New(s); !c.Cure.Done || !strings.Contains(c.Cure.Text, "since about 21 March 2026") {
		t.Errorf("long after: %+v", c.Cure)
	}
	s = story(t)
	s.Coats = s.Coats[:1]
	if c := New(s); !strings.Contains(c.Cure.Text, "Its label gives 14 days") || slices.ContainsFunc(c.Unknown, func(u string) bool { return strings.Contains(u, "doors") }) {
		t.Errorf("one whose label gives it: %+v", c)
	}
	s.Look = func(string) (schedule.Coat, bool) {
		return schedule.Coat{ByLabel: true, Estimates: []drying.Estimate{{Stage: drying.Cured, Likely: evening.Add(9 * day), High: evening.Add(9 * day)}}}, true
	}
	if c := New(s); !c.Cure.ByLabel || !strings.Contains(c.Cure.Text, "by the label alone") {
		t.Errorf("a room that was not measured: %+v", c.Cure)
	}
	s.Look = func(string) (schedule.Coat, bool) { return schedule.Coat{}, false }
	if c := New(s); c.Cure.Known || !strings.Contains(c.Cure.Text, "cannot be told yet") || !c.Cure.High.IsZero() {
		t.Errorf("nothing known: %+v", c.Cure)
	}
	s.Coats = nil
	if c := New(s); c.Cure.Known || !strings.Contains(c.Cure.Text, "No coat was recorded") || len(c.Cautions) != 0 {
		t.Errorf("no coat: %+v", c)
	}
}
