package shop

import (
	"errors"
	"math"
	"math/big"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/internal/shop/mix"
)

func shelved(t *testing.T, j *Journal, c Can) Can {
	t.Helper()
	c.Product = "f-0001"
	c, err := j.AddCan(t.Context(), c, evening)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// left returns what the journal says is left in a can.
func left(t *testing.T, j *Journal, id string) float64 {
	t.Helper()
	c, err := j.Can(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	return c.LeftML
}

func TestACanHoldsWhatTheCoatsLeave(t *testing.T) {
	j := furnished(t)
	can := shelved(t, j, Can{LeftML: 500, Batch: "B7"})
	use := func(part string, at time.Time, ml float64) Coat {
		t.Helper()
		c, err := j.ApplyCoat(t.Context(), Application{Part: part, Product: "f-0001", Applied: at, Can: can.ID, UsedML: ml}, at)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	first := use("p-0001.1", evening, 120)
	if first.Batch != "B7" || first.Can != can.ID || first.UsedML != 120 {
		t.Errorf("%+v", first)
	}
	second := use("p-0001.2", evening, 80)
	if got := left(t, j, can.ID); got != 300 {
		t.Errorf("after two coats: %v", got)
	}
	if err := j.UndoCoat(t.Context(), second.ID, evening); err != nil || left(t, j, can.ID) != 380 {
		t.Errorf("one undone: %v, %v", left(t, j, can.ID), err)
	}
	if err := j.MeasureCan(t.Context(), can.ID, 100, evening); err != nil || left(t, j, can.ID) != 100 {
		t.Errorf("measured: %v, %v", left(t, j, can.ID), err)
	}
	use("p-0001.2", evening.Add(time.Hour), 30)
	if got := left(t, j, can.ID); got != 70 {
		t.Errorf("and used again: %v", got)
	}
	use("p-0001.2", evening.Add(2*time.Hour), 1000)
	if got := left(t, j, can.ID); got != 0 {
		t.Errorf("more used than there was: %v", got)
	}
}

func TestTheShelf(t *testing.T) {
	j := furnished(t)
	shelved(t, j, Can{LeftML: 750, BestBy: evening.Add(300 * day), KeepsDays: 180})
	shelved(t, j, Can{LeftML: 250, Batch: " B8 "})
	if err := j.OpenCan(t.Context(), "s-0001", evening.Add(-day), evening); err != nil {
		t.Fatal(err)
	}
	want := []Can{
		{ID: "s-0001", Product: "f-0001", Name: "Quiet Harbour colour coat", LeftML: 750, BestBy: evening.Add(300 * day), KeepsDays: 180, Opened: evening.Add(-day), Added: evening},
		{ID: "s-0002", Product: "f-0001", Name: "Quiet Harbour colour coat", LeftML: 250, Batch: "B8", Added: evening},
	}
	for _, product := range []string{"", "f-0001"} {
		got, err := j.Cans(t.Context(), product)
		if d := cmp.Diff(want, got); d != "" || err != nil {
			t.Error(d, err)
		}
	}
	if none, err := j.Cans(t.Context(), "f-0002"); err != nil || len(none) != 0 {
		t.Error(none, err)
	}
	all := changes(t, j, 3)
	if len(all) != 3 || all[2].What != "open the can" || !strings.Contains(string(all[2].After), `"opened":"2026-02-28T21:30:00Z"`) || strings.Contains(string(all[2].Before), `"opened"`) {
		t.Errorf("%+v", all)
	}
}

func TestWarningsOfACan(t *testing.T) {
	west := time.FixedZone("west", -5*60*60)
	full := Can{LeftML: 500}
	dated := Can{LeftML: 500, BestBy: evening}
	opened := Can{LeftML: 500, BestBy: evening.Add(400 * day), Opened: evening.Add(-100 * day), KeepsDays: 100}
	for name, c := range map[string]struct {
		can    Can
		at     time.Time
		needed float64
		want   []string
	}{
		"nothing known":           {full, evening, 0, nil},
		"enough":                  {full, evening, 500, nil},
		"not enough":              {full, evening, 500.5, []string{"holds about 500mL, less than the 500.5mL that are needed"}},
		"empty":                   {Can{}, evening, 0, []string{"is empty"}},
		"long before":             {dated, evening.Add(-14 * day), 0, nil},
		"soon":                    {dated, evening.Add(-14*day + time.Second), 0, []string{"is good until 1 Mar 2026 only"}},
		"at its day":              {dated, evening, 0, []string{"was good until 1 Mar 2026: stir it"}},
		"days on the clock there": {Can{LeftML: 500, BestBy: time.Date(2026, 3, 1, 23, 59, 59, 0, west)}, time.Date(2026, 3, 2, 0, 0, 0, 0, west), 0, []string{"was good until 1 Mar 2026: stir it"}},
		"opened comes first":      {opened, evening, 0, []string{"was good until 1 Mar 2026"}},
		"both":                    {dated, evening.Add(day), 600, []string{"was good until 1 Mar 2026", "less than the 600mL"}},
		"unopened keeps":          {Can{LeftML: 1, KeepsDays: 1}, evening.Add(999 * day), 0, nil},
	} {
		got := c.can.Warnings(c.at, c.needed)
		if len(got) != len(c.want) {
			t.Errorf("%s: %q", name, got)
			continue
		}
		for i, want := range c.want {
			if !strings.Contains(got[i], want) {
				t.Errorf("%s: %q, want %q", name, got[i], want)
			}
		}
	}
}

func TestTheShelfRefuses(t *testing.T) {
	j := furnished(t)
	can := shelved(t, j, Can{LeftML: 500, Opened: evening.Add(-day)})
	right := Can{Product: "f-0001", LeftML: 500}
	for says, change := range map[string]func(*Can){
		"the amount in the can of 0 mL cannot be":   func(c *Can) { c.LeftML = 0 },
		"the amount in the can of NaN mL cannot be": func(c *Can) { c.LeftML = math.NaN() },
		"keeps once opened of -1 days cannot be":    func(c *Can) { c.KeepsDays = -1 },
		"keeps once opened of 9999 days cannot be":  func(c *Can) { c.KeepsDays = 9999 },
		"the day on the can lies too far off":       func(c *Can) { c.BestBy = evening.Add(51 * 366 * day) },
		"the day it was opened lies in the future":  func(c *Can) { c.Opened = evening.Add(day) },
		"the batch holds the invisible character":   func(c *Can) { c.Batch = "a\x00b" },
	} {
		c := right
		change(&c)
		if _, err := j.AddCan(t.Context(), c, evening); !asked(err) || !strings.Contains(err.Error(), says) {
			t.Errorf("%v\n want %s", err, says)
		}
	}
	right.Product = "f-0009"
	if _, err := j.AddCan(t.Context(), right, evening); !errors.Is(err, ErrNotFound) {
		t.Error(err)
	}
	if err := j.OpenCan(t.Context(), can.ID, evening, evening); !asked(err) || !strings.Contains(err.Error(), "was opened already, on 2026-02-28") {
		t.Error(err)
	}
	if err := j.MeasureCan(t.Context(), can.ID, -1, evening); !asked(err) {
		t.Error(err)
	}
	for _, err := range []error{j.OpenCan(t.Context(), "s-0009", evening, evening), j.MeasureCan(t.Context(), "s-0009", 1, evening), j.MeasureCan(t.Context(), "7", 1, evening)} {
		if !errors.Is(err, ErrNotFound) {
			t.Error(err)
		}
	}
	if _, err := j.PutProduct(t.Context(), load(t, strings.Replace(quietHarbour, "Quiet Harbour", "Loud Harbour", 1)), evening); err != nil {
		t.Fatal(err)
	}
	for says, a := range map[string]Application{
		"the can s-0001 holds Quiet Harbour colour coat": {Product: "f-0002", Can: can.ID},
		`no can on the shelf has the id "s-0009"`:        {Product: "f-0001", Can: "s-0009"},
		`no mix has the id "m-0009"`:                     {Product: "f-0001", Recipe: "m-0009"},
		"the amount used of -1 mL cannot be":             {Product: "f-0001", UsedML: -1},
		"the amount used of NaN mL cannot be":            {Product: "f-0001", UsedML: math.NaN()},
	} {
		a.Part, a.Applied = "p-0001.1", evening
		if _, err := j.ApplyCoat(t.Context(), a, evening); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%v\n want %s", err, says)
		}
	}
}

func TestMixesAreKeptExactly(t *testing.T) {
	j := furnished(t)
	recipe := mix.Recipe{Name: " Harbour grey ", Basis: mix.ByMass, Parts: []mix.Part{{Name: "base ", Share: big.NewRat(3, 1)}, {Name: "black", Share: big.NewRat(1, 7)}}}
	added, err := j.AddMix(t.Context(), recipe, evening)
	if err != nil {
		t.Fatal(err)
	}
	want := Mix{ID: "m-0001", Added: evening, Recipe: mix.Recipe{Name: "Harbour grey", Basis: mix.ByMass, Parts: []mix.Part{{Name: "base", Share: big.NewRat(3, 1)}, {Name: "black", Share: big.NewRat(1, 7)}}}}
	got, err := j.Mix(t.Context(), "m-0001")
	if d := cmp.Diff([]Mix{want, want}, []Mix{added, got}, rationals); d != "" || err != nil {
		t.Error(d, err)
	}
	if recipe.Parts[0].Name != "base " {
		t.Error("the caller's recipe was changed")
	}
	c, err := j.ApplyCoat(t.Context(), Application{Part: "p-0001.1", Product: "f-0001", Applied: evening, Recipe: "m-0001"}, evening)
	if err != nil || c.Recipe != "m-0001" {
		t.Error(c, err)
	}
	recipe.Parts[0].Share = big.NewRat(4, 1)
	if other, err := j.AddMix(t.Context(), recipe, evening); err != nil || other.ID != "m-0002" {
		t.Error(other, err)
	}
	if all, err := j.Mixes(t.Context()); err != nil || len(all) != 2 || len(all[1].Parts) != 2 {
		t.Error(all, err)
	}
	recipe.Basis = "taste"
	if _, err := j.AddMix(t.Context(), recipe, evening); !asked(err) {
		t.Error(err)
	}
	if _, err := j.Mix(t.Context(), "m-0009"); !errors.Is(err, ErrNotFound) {
		t.Error(err)
	}
}

func TestNoteCoat(t *testing.T) {
	j := furnished(t)
	c := apply(t, j, "p-0001.1", evening)
	for _, note := range []string{"a patch held", "a patch held ", "two patches held"} {
		if err := j.NoteCoat(t.Context(), c.ID, note, evening); err != nil {
			t.Fatal(err)
		}
	}
	kept, err := j.Coat(t.Context(), c.ID)
	if err != nil || kept.Note != "two patches held" || !kept.Undone.IsZero() {
		t.Errorf("%+v, %v", kept, err)
	}
	if all := changes(t, j, 4); len(all) != 2 || !strings.Contains(string(all[1].Before), "a patch held") {
		t.Errorf("%+v", all)
	}
	if err := j.NoteCoat(t.Context(), c.ID, "a\nb", evening); !asked(err) {
		t.Error(err)
	}
	if err := j.NoteCoat(t.Context(), "c-0009", "x", evening); !errors.Is(err, ErrNotFound) {
		t.Error(err)
	}
}
