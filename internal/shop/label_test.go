package shop

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/drying"
)

const quietHarbour = `name = "Quiet Harbour colour coat"
family = "waterborne"
kind = "acrylic"

[stated]
air = "23C"
rh = 50
film = "100um"
touch = "30m"
sand = "3h"
recoat = "2h"
recoat_by = "72h"
handle = "12h"
cure = "21d"

[limits]
air_min = "10C"
air_max = "32C"
rh_max = 85
dew_margin_min = "3K"
film_forms_above = "8C"
`

func load(t *testing.T, label string) drying.Product {
	t.Helper()
	p, err := LoadProduct(strings.NewReader(label), "harbour.toml")
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func TestLoadProductTakesWhatTheLabelSays(t *testing.T) {
	p := load(t, quietHarbour)
	for _, c := range []struct {
		key       string
		got, want any
	}{
		{"name", p.Name, "Quiet Harbour colour coat"},
		{"family", p.Family, drying.Waterborne},
		{"kind", p.Kind, "acrylic"},
		{"air", float64(p.Stated.Air), 23.},
		{"rh", float64(p.Stated.Humidity), 50.},
		{"film", p.Stated.Film, drying.Microns(100)},
		{"touch", p.Stated.Times[drying.SetToTouch], 30 * time.Minute},
		{"sand", p.Stated.Times[drying.Sandable], 3 * time.Hour},
		{"recoat", p.Stated.Times[drying.DryToRecoat], 2 * time.Hour},
		{"recoat_by", p.Stated.RecoatBy, 72 * time.Hour},
		{"handle", p.Stated.Times[drying.Handle], 12 * time.Hour},
		{"cure", p.Stated.Times[drying.Cured], 21 * 24 * time.Hour},
		{"air_min", float64(p.Limits.AirMin), 10.},
		{"air_max", float64(p.Limits.AirMax), 32.},
		{"rh_max", float64(p.Limits.HumidityMax), 85.},
		{"dew_margin_min", float64(p.Limits.DewMarginMin), 3.},
		{"film_forms_above", float64(p.Limits.FilmFormsAbove), 8.},
		{"film forms", p.Limits.HasFilmForms, true},
	} {
		if c.got != c.want {
			t.Errorf("%s: %v, want %v", c.key, c.got, c.want)
		}
	}
	for _, key := range []string{"stated.dust_free", "stated.tack_free"} {
		if !p.IsAssumed(key) {
			t.Errorf("%s is not marked as assumed: %v", key, p.Assumed)
		}
	}
}

func TestLoadProductTakesEveryKeyAndUnit(t *testing.T) {
	p := load(t, `
name = "Lowtide \"trial\" \\ clear"
family = "solvent"
kind = "lacquer"
stated = {air = "68F", rh = "45.5%", film = "4mil", touch = "5min", dust_free = "10m", tack_free = "0.5h", sand = "1h", recoat = "1h", handle = "4h", cure = "7d"}
[limits]
air_min = "50F"
air_max = "86F"
rh_min = 20
rh_max = 75.5
dew_margin_min = "9F"
air_dew_min = "10K"
`)
	if p.Name != `Lowtide "trial" \ clear` || p.Stated.Air != 20 || p.Stated.Humidity != 45.5 || p.Stated.Film != 101.6 || p.Limits.AirMin != 10 ||
		p.Limits.HumidityMin != 20 || p.Limits.HumidityMax != 75.5 || p.Limits.DewMarginMin != 5 || p.Limits.AirMarginMin != 10 || p.Limits.HasFilmForms {
		t.Errorf("%+v", p)
	}
}

func TestLoadProductSaysWhatIsWrong(t *testing.T) {
	change := func(old, with string) string {
		if !strings.Contains(quietHarbour, old) {
			t.Fatal(old)
		}
		return strings.Replace(quietHarbour, old, with, 1)
	}
	for name, c := range map[string]struct{ label, says string }{
		"no unit":         {change(`"23C"`, "23"), `harbour.toml: line 6: stated.air: "23" has no unit: write a temperature such as 20C or 68F`},
		"misspelt":        {change("recoat_by", "recoat_bye"), `harbour.toml: line 12: "stated.recoat_bye" is not a key of a product file: did you mean stated.recoat_by?`},
		"wrong table":     {change("air_min", "recoat"), `harbour.toml: line 17: "limits.recoat" is not a key of a product file: did you mean stated.recoat?`},
		"misspelt table":  {change("[limits]", "[limit]"), `harbour.toml: line 16: "limit.air_max" is not a key of a product file: did you mean limits.air_max?`},
		"capitals":        {change("[stated]", "[Stated]"), `did you mean stated.air?`},
		"unheard of":      {change("kind", "colour_of_the_tin"), `line 3: "colour_of_the_tin" is not a key of a product file: the keys are name, family, kind, class, stated.air`},
		"empty table":     {quietHarbour + "[shelf]\n", `line 22: "shelf" is not a key of a product file`},
		"list":            {change(`"30m"`, `["30m"]`), `line 9: stated.touch takes one value in quotation marks, not a list`},
		"truth":           {change(`"30m"`, `true`), `line 9: stated.touch takes one value in quotation marks, not a list`},
		"table for value": {change(`"30m"`, `{}`), `line 9: stated.touch takes one value in quotation marks, not a list`},
		"value for table": {"stated = 5", `"stated" is not a key of a product file`},
		"not TOML":        {change(`"23C"`, "23C"), `harbour.toml: line 6 cannot be read: `},
		"twice":           {change("sand", "touch"), `cannot be read: `},
		"no name":         {change(`name = "Quiet Harbour colour coat"`, ""), `harbour.toml: name is missing: every product needs it`},
		"no air":          {change(`air = "23C"`, ""), `harbour.toml: stated.air is missing: every product needs it`},
		"no recoat":       {change(`recoat = "2h"`, ""), "harbour.toml: stated.recoat is missing: every product needs it, such as recoat = \"4h\""},
		"empty name":      {change("Quiet Harbour colour coat", " "), `line 1: name: it is empty: give it a name`},
		"control":         {change("Quiet", `Quiet\u0000`), `line 1: name: it holds the invisible character U+0000: leave it out`},
		"negative time":   {change(`"30m"`, `"-30m"`), `line 9: stated.touch: "-30m" is not a duration: write a duration such as 30m, 2h, 1h30m or 21d`},
		"not a number":    {change("rh = 50", "rh = nan"), `line 7: stated.rh: "NaN" is not a relative humidity`},
		"kind":            {change("acrylic", "shellac"), `kind`},
		"family":          {change("waterborne", "magic"), `family`},
		"large":           {strings.Repeat("# a long story\n", 10_000), "harbour.toml: the file is larger than 64 KiB: a product file has a few lines"},
		"empty":           {"", "name is missing"},
		"bytes":           {"\xff\xfe\x00", "cannot be read"},
	} {
		_, err := LoadProduct(strings.NewReader(c.label), "harbour.toml")
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v\n want %s", name, err, c.says)
		}
	}
}

func TestLoadProductSaysAllThatIsWrong(t *testing.T) {
	_, err := LoadProduct(strings.NewReader("name = \"Q\"\n[stated]\nair = 23\nrh = 500\nhumid = 1\n"), "q.toml")
	want := `q.toml: line 3: stated.air: "23" has no unit: write a temperature such as 20C or 68F
line 4: stated.rh: "500" is out of range: a relative humidity lies between 0% and 100%
line 5: "stated.humid" is not a key of a product file: `
	if err == nil || !strings.HasPrefix(err.Error(), want) || !strings.Contains(err.Error(), "\nfamily is missing: every product needs it, such as family = \"waterborne\"") {
		t.Errorf("%v\n want %s…", err, want)
	}
}

// productFiles are the shipped ones.
func productFiles(t *testing.T) []string {
	t.Helper()
	paths, err := filepath.Glob(filepath.Join("..", "..", "testdata", "products", "*.toml"))
	if err != nil || len(paths) < 6 {
		t.Fatal(len(paths), err)
	}
	return paths
}

func TestEveryProductFileLoadsAndIsSavedAsItWas(t *testing.T) {
	families := map[drying.Family]bool{}
	names := map[string]bool{}
	for _, path := range productFiles(t) {
		p, err := LoadProductFile(path)
		if err != nil {
			t.Error(err)
			continue
		}
		if names[p.Name] {
			t.Errorf("%s: %s is there twice", path, p.Name)
		}
		names[p.Name], families[p.Family] = true, true
		for _, key := range p.Assumed {
			if !slices.ContainsFunc(fields, func(f field) bool { return f.key == key }) {
				t.Errorf("%s: %s was assumed and is no key", path, key)
			}
		}
		var saved bytes.Buffer
		if err := SaveProduct(&saved, p); err != nil {
			t.Error(err)
		}
		if d := cmp.Diff(p, load(t, saved.String())); d != "" {
			t.Errorf("%s: %s\n%s", path, d, saved.String())
		}
	}
	if len(families) != 5 {
		t.Errorf("the files are of %d families", len(families))
	}
}

func TestSaveProductLeavesOutWhatWasAssumed(t *testing.T) {
	var saved bytes.Buffer
	if err := SaveProduct(&saved, load(t, quietHarbour)); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(quietHarbour, saved.String()); d != "" {
		t.Error(d)
	}
	p := load(t, quietHarbour)
	p.Name = "two\nlines"
	if err := SaveProduct(&saved, p); err == nil {
		t.Error("a name of two lines was saved")
	}
}

// The page for finishers holds a worked example, which has to load.
func TestTheExampleOfThePageLoads(t *testing.T) {
	page, err := os.ReadFile("PRODUCT.md")
	if err != nil {
		t.Fatal(err)
	}
	_, after, found := strings.Cut(string(page), "```toml\n")
	example, _, closed := strings.Cut(after, "```")
	if !found || !closed {
		t.Fatal("PRODUCT.md has no example")
	}
	load(t, example)
	for _, f := range fields {
		if _, word := tableAndWord(f.key); !strings.Contains(string(page), "`"+word+"`") {
			t.Errorf("PRODUCT.md does not tell of %s", f.key)
		}
	}
}

func FuzzLoadProduct(f *testing.F) {
	f.Add(quietHarbour)
	f.Add("name = \"Q\"\nfamily = \"solvent\"\nstated = {air = \"68F\", rh = \"50%\", recoat = \"2h\"}\n")
	f.Add("[[stated]]\nair = 1\n[a.b.c]\n")
	f.Add(quietHarbour + "[[stated.also]]\nair = \"10C\"\nrh = 50\nrecoat = \"6h\"\n")
	f.Fuzz(func(t *testing.T, label string) {
		p, err := LoadProduct(strings.NewReader(label), "fuzz")
		if err != nil {
			return
		}
		var saved bytes.Buffer
		if err := SaveProduct(&saved, p); err != nil {
			t.Fatal(err)
		}
		again, err := LoadProduct(&saved, "saved")
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(p, again); d != "" {
			t.Error(d)
		}
	})
}

// A limit of nothing at all is a limit all the same, where the label says so.
func TestZeroesOfALabelAreKept(t *testing.T) {
	p := load(t, `name = "Lantern cold sealer"
family = "solvent"
kind = "shellac"

[stated]
air = "21C"
rh = 50
recoat = "2h"

[limits]
air_min = "0C"
air_dew_min = "0K"
`)
	if p.Limits.AirMin != 0 || p.Limits.AirMarginMin != 0 || p.IsAssumed("limits.air_min") || p.IsAssumed("limits.air_dew_min") {
		t.Errorf("%+v", p)
	}
	var saved bytes.Buffer
	if err := SaveProduct(&saved, p); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(p, load(t, saved.String())); d != "" {
		t.Errorf("%s\n%s", d, saved.String())
	}
	kept, err := restore(preserve(p))
	if d := cmp.Diff(p, kept); d != "" || err != nil {
		t.Error(d, err)
	}
}
