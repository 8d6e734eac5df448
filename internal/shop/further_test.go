package shop

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/drying"
	"recoat/internal/shop/compat"
)

const tableOfTwo = `
also = [
  {air = "10C", rh = 50, recoat = "6h", handle = "2d"},
  {air = "86F", rh = "40%", recoat = "90m"},
]
`

func TestALabelWithATable(t *testing.T) {
	label := strings.Replace(quietHarbour, "cure = \"21d\"\n", "cure = \"21d\""+tableOfTwo, 1)
	p := load(t, label)
	want := []drying.Further{{Air: 10, Humidity: 50}, {Air: 30, Humidity: 40}}
	want[0].Times[drying.DryToRecoat], want[0].Times[drying.Handle] = 6*time.Hour, 48*time.Hour
	want[1].Times[drying.DryToRecoat] = 90 * time.Minute
	if d := cmp.Diff(want, p.Further, cmp.Comparer(func(a, b float64) bool { return a-b < 1e-9 && b-a < 1e-9 })); d != "" {
		t.Error(d)
	}
	var written strings.Builder
	if err := SaveProduct(&written, p); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(p, load(t, written.String())); d != "" {
		t.Errorf("written and read again: %s\n%s", d, written.String())
	}
	tables := strings.Replace(quietHarbour, "[limits]", "[[stated.also]]\nair = \"10C\"\nrh = 50\nrecoat = \"6h\"\n[limits]", 1)
	if p := load(t, tables); len(p.Further) != 1 || p.Further[0].Air != 10 {
		t.Errorf("as tables: %+v", p.Further)
	}
	j := furnished(t)
	if _, err := j.PutProduct(t.Context(), p, evening); err != nil {
		t.Fatal(err)
	}
	kept, err := j.Product(t.Context(), "f-0001")
	if d := cmp.Diff(p, kept.Label); d != "" || err != nil || kept.Version != 2 {
		t.Error(d, err, kept.Version)
	}
}

func TestWhatIsNoTable(t *testing.T) {
	for says, also := range map[string]string{
		"line 15: stated.also takes a list of tables":      `also = "10C"`,
		"stated.also, row 1, is no table":                  `also = [3]`,
		`row 1: "colour" is not a key of a row`:            `also = [{air = "10C", rh = 50, colour = 3}]`,
		"row 1: rh is missing":                             `also = [{air = "10C", recoat = "6h"}]`,
		`row 1: air: "10" has no unit`:                     `also = [{air = 10, rh = 50, recoat = "6h"}]`,
		"row 1: recoat takes one value":                    `also = [{air = "10C", rh = 50, recoat = [1]}]`,
		"stated.also, row 1 gives stated.tack_free, which": `also = [{air = "10C", rh = 50, tack_free = "1h"}]`,
	} {
		label := strings.Replace(quietHarbour, "cure = \"21d\"\n", "cure = \"21d\"\n"+also+"\n", 1)
		if _, err := LoadProduct(strings.NewReader(label), "harbour.toml"); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%v\n want %s", err, says)
		}
	}
}

func TestTheClassOfALabel(t *testing.T) {
	label := strings.Replace(quietHarbour, "kind = \"acrylic\"\n", "kind = \"acrylic\"\nclass = \"gel-stain\"\n", 1)
	p := load(t, label)
	if got := compat.LayerOf(p).Class; got != compat.GelStain {
		t.Errorf("%q", got)
	}
	if _, err := LoadProduct(strings.NewReader(strings.Replace(label, "gel-stain", "gold", 1)), "x"); err == nil || !strings.Contains(err.Error(), `class: "gold" is no class of layer`) {
		t.Error(err)
	}
}
