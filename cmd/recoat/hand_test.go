package main

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// aPhoto writes a small picture and returns its path.
func aPhoto(t *testing.T) string {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 6, 4))); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "press.png")
	if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestAScheduleByTheShell(t *testing.T) {
	s := newShell(t)
	s.furnish()
	var next scheduleReport
	s.json(&next, "piece", "plan", "p-0001.1", "--template", "stain-oil-varnish")
	if len(next.Next) != 1 || next.Next[0].Step.ID != 1 || !next.Next[0].Ready || next.Parts[0].Template != "stain-oil-varnish" {
		t.Fatalf("%+v", next)
	}
	s.json(&next, "piece", "tick", "p-0001.1", "1")
	s.must("coat", "apply", "--part", "p-0001.1", "--product", "f-0002")
	s.json(&next, "piece", "schedule", "p-0001")
	if n := next.Next[0]; n.Step.ID != 3 || n.Ready || !n.Known || n.Likely.IsZero() || len(n.Waits) != 1 || n.Waits[0].Coat != "c-0001" {
		t.Errorf("after the stain: %+v", next.Next)
	}
	out, _ := s.must("piece", "schedule", "p-0001", "--all")
	for _, want := range []string{"step 3 of 8: oil varnish", "by the label alone", "touch decides", "c-0001, "} {
		if !strings.Contains(out, want) {
			t.Errorf("no %q in:\n%s", want, out)
		}
	}
	s.must("coat", "undo", "c-0001")
	if s.json(&next, "piece", "untick", "p-0001.1", "1"); next.Next[0].Step.ID != 1 {
		t.Errorf("taken back: %+v", next.Next)
	}
	if s.json(&next, "piece", "tick", "p-0001.1", "2", "--skip"); next.Next[0].Step.ID != 3 || next.Parts[0].Steps[1].Skipped.IsZero() {
		t.Errorf("skipped: %+v", next.Next)
	}
	s.must("shelf", "add", "--product", "f-0001", "--amount", "10mL", "--best-by", "2020-01-01")
	own := write(t, "steps.json", `[{"kind":"topcoat","product":"f-0001"},{"id":2,"kind":"other","words":"wax"}]`)
	_, warned := s.must("piece", "plan", "p-0001.3", "--file", own)
	if !strings.Contains(warned, "Shelf: s-0001 was good until 1 Jan 2020") {
		t.Errorf("before a coat is planned on an old can: %s", warned)
	}
	if s.json(&next, "piece", "schedule", "p-0001"); len(next.Ahead) != 1 || next.Ahead[0].Part != "p-0001.3" || len(next.Ahead[0].Shelf) != 1 {
		t.Errorf("%+v", next.Ahead)
	}
	if out, errs, code := call(t, "piece", "templates", "--json"); code != 0 || strings.Count(out, `"source": "common practice, no source"`) < 9 {
		t.Errorf("exit %d: %s%s", code, out, errs)
	}
}

func TestWhatIsDoneLaterByTheShell(t *testing.T) {
	s := newShell(t)
	s.furnish()
	var coat struct {
		Film    float64 `json:"film_um"`
		Least   float64 `json:"film_least_um"`
		Thinned float64 `json:"thinned_pct"`
		Method  string
		Warned  string
		Reason  string
	}
	s.json(&coat, "coat", "apply", "--part", "p-0001.1", "--product", "f-0002", "--gauge", "75um..100um", "--method", "brush", "--thinned", "5%", "--over", "unknown-film", "--reason", "a patch held")
	if coat.Film != 87.5 || coat.Least != 75 || coat.Thinned != 5 || coat.Reason != "a patch held" || !strings.Contains(coat.Warned, "hidden patch") {
		t.Errorf("%+v", coat)
	}
	s.json(&coat, "coat", "apply", "--part", "p-0001.2") // as the last one
	if coat.Film != 87.5 || coat.Method != "brush" || coat.Least != 0 {
		t.Errorf("as last time: %+v", coat)
	}
	if s.json(&coat, "coat", "edit", "c-0002", "--film", "4mil", "--who", "Ada Example"); coat.Film != 101.6 {
		t.Errorf("%+v", coat)
	}
	var history []struct {
		Seq       int64
		What, Who string
	}
	s.json(&history, "journal", "history", "c-0002")
	if len(history) != 2 || history[1].What != "edit the coat" || history[1].Who != "Ada Example" {
		t.Fatalf("%+v", history)
	}
	s.must("journal", "undo", fmt.Sprint(history[1].Seq))
	var coats []map[string]any
	if s.json(&coats, "coat", "list"); coats[1]["film_um"] != 87.5 {
		t.Errorf("undone: %v", coats[1]["film_um"])
	}
	var rags []map[string]any
	if s.json(&rags, "coat", "rags"); len(rags) != 2 || !strings.Contains(rags[0]["text"].(string), "catch fire") {
		t.Errorf("rags: %v", rags)
	}
	if s.json(&rags, "coat", "rags", "c-0001"); len(rags) != 1 || rags[0]["coat"] != "c-0002" {
		t.Errorf("one dealt with: %v", rags)
	}
	var touched touchReport
	if s.json(&touched, "touch", "add", "--coat", "c-0002", "--found", "dry"); touched.Answer.Verdict != "sooner" || !touched.Answer.ByLabel {
		t.Errorf("the answer: %+v", touched.Answer)
	}
	for range 2 { // the same tap
		s.must("touch", "add", "--coat", "c-0001", "--found", "wet", "--tap", "phone-0001")
	}
	var touches []map[string]any
	if s.json(&touches, "touch", "list", "--coat", "c-0001"); len(touches) != 1 {
		t.Errorf("%v", touches)
	}
	s.must("touch", "undo", "t-0002")
	if s.json(&touches, "touch", "list", "--coat", "c-0001"); len(touches) != 0 {
		t.Errorf("%v", touches)
	}
}

func TestAPieceByTheShell(t *testing.T) {
	s := newShell(t)
	s.furnish()
	var piece map[string]any
	s.json(&piece, "piece", "edit", "p-0001", "--client", "collects on Friday", "--note", "from the attic")
	s.json(&piece, "piece", "part", "p-0001.2", "--thickness", "15mm")
	s.must("piece", "moisture", "p-0001.1", "--wood", "9%", "--depth", "4mm", "--note", "set to oak")
	if s.json(&piece, "piece", "photo", "p-0001", aPhoto(t)); len(piece["photo"].(string)) != 64 {
		t.Errorf("%v", piece["photo"])
	}
	if _, err := os.Stat(filepath.Join(s.data, "photos", piece["photo"].(string))); err != nil {
		t.Error(err)
	}
	s.json(&piece, "piece", "show", "p-0001")
	if piece["client"] != "collects on Friday" || len(piece["moisture"].([]any)) != 1 || piece["parts"].([]any)[1].(map[string]any)["thickness_mm"] != 15.0 {
		t.Errorf("%v", piece)
	}
	if s.json(&piece, "piece", "duplicate", "p-0001", "The second"); piece["id"] != "p-0002" || piece["client"] != "" {
		t.Errorf("%v", piece)
	}
	s.must("coat", "apply", "--part", "p-0001.1", "--product", "f-0003")
	s.must("piece", "deliver", "p-0001")
	file := filepath.Join(t.TempDir(), "card.html")
	s.must("piece", "card", "p-0001", "--out", file, "--link", "https://shop.example/press.html")
	if sheet, err := os.ReadFile(file); err != nil || !strings.Contains(string(sheet), `<path d="M`) || !strings.Contains(string(sheet), "<style>") {
		t.Errorf("the card's file: %v: %.300s", err, sheet)
	}
	card, _ := s.must("piece", "card", "p-0001")
	if !strings.Contains(card, "Treat it as not yet cured until") || !strings.Contains(card, "Sea Glass clear (water-based") || strings.Contains(card, "Friday") {
		t.Errorf("the card:\n%s", card)
	}
	s.must("journal", "archive", "p-0001")
	var found []map[string]any
	if s.json(&found, "piece", "list", "--search", "attic"); len(found) != 0 {
		t.Errorf("found in the archive: %v", found)
	}
	if s.json(&found, "piece", "list", "--search", "ATTIC", "--archived"); len(found) != 1 {
		t.Errorf("not found: %v", found)
	}
	s.must("journal", "unarchive", "p-0001")
	backup := filepath.Join(t.TempDir(), "journal.json")
	var report backupReport
	if s.json(&report, "journal", "backup", backup); report.Photos != 1 {
		t.Errorf("%+v", report)
	}
	other := newShell(t)
	other.must("journal", "restore", backup)
	if a, b := s.export(t), other.export(t); !bytes.Equal(a, b) {
		t.Error("the restored journal exports another text")
	}
	photos, err := filepath.Glob(filepath.Join(other.data, "photos", "*"))
	if err != nil || len(photos) != 1 {
		t.Errorf("its photos: %v, %v", photos, err)
	}
	s.must("piece", "photo", "p-0001", "--remove")
	var here map[string]any
	if s.json(&here, "piece", "edit", "p-0001", "--here"); here["photo"] != "" || here["delivered"] != nil {
		t.Errorf("%v", here)
	}
}

func TestProductsByTheShell(t *testing.T) {
	s := newShell(t)
	s.furnish()
	shown, _ := s.must("product", "export", "f-0003", "--name", "Sea Glass satin")
	out, _ := s.must("product", "add", write(t, "copy.toml", shown))
	if out != "f-0004  Sea Glass satin, version 1\n" {
		t.Errorf("a copy: %s", out)
	}
	also := shown + "[[stated.also]]\nair = \"12C\"\nrh = 50\nrecoat = \"8h\"\n"
	out, _ = s.must("product", "edit", "f-0004", write(t, "also.toml", also))
	if !strings.Contains(out, "f-0004  Sea Glass satin, version 2\nThe label gives 1 more times") {
		t.Errorf("with a table: %s", out)
	}
	var product struct {
		Also []struct {
			Air float64 `json:"air_c"`
		}
		Fit struct{ Off, Left float64 }
	}
	if s.json(&product, "product", "show", "f-0004"); len(product.Also) != 1 || product.Also[0].Air != 12 || product.Fit.Left < 1 || product.Fit.Left >= product.Fit.Off {
		t.Errorf("%+v", product)
	}
	preset, errs, code := call(t, "product", "preset", "oxidising", "hardwax")
	if code != 0 || !strings.Contains(preset, "common practice, no source") {
		t.Fatalf("exit %d: %s", code, errs)
	}
	s.must("product", "add", write(t, "preset.toml", preset))
}

func TestMistakesOfTheHandGetOneClearLine(t *testing.T) {
	s := newShell(t)
	s.furnish()
	s.must("piece", "plan", "p-0001.1", "--template", "oil")
	circle := write(t, "circle.json", `[{"kind":"sand","waits":[{"step":2}]},{"id":2,"kind":"colour"}]`)
	for name, c := range map[string]struct {
		args []string
		code int
		want string
	}{
		"a circle":           {[]string{"piece", "plan", "p-0001.2", "--file", circle}, 2, "the steps wait for each other in a circle"},
		"no template":        {[]string{"piece", "plan", "p-0001.2", "--template", "gilded"}, 2, "recoat piece templates lists them"},
		"no steps":           {[]string{"piece", "plan", "p-0001.2"}, 2, "--template painted-bare"},
		"both":               {[]string{"piece", "plan", "p-0001.2", "--template", "oil", "--file", circle}, 2, "--template and --file can't be used together"},
		"no JSON":            {[]string{"piece", "plan", "p-0001.2", "--file", write(t, "x.json", "sand")}, 2, "the steps cannot be read"},
		"tick a coat":        {[]string{"piece", "tick", "p-0001.1", "2"}, 2, "is done by applying its coat"},
		"no such step":       {[]string{"piece", "tick", "p-0001.1", "99"}, 1, "has no step 99"},
		"not a photo":        {[]string{"piece", "photo", "p-0001", write(t, "x.png", "<svg onload=x>")}, 2, "the photo is not one"},
		"photo or remove":    {[]string{"piece", "photo", "p-0001"}, 2, "say either the photo's file, or --remove"},
		"gauge":              {[]string{"coat", "apply", "--part", "p-0001.1", "--product", "f-0003", "--gauge", "75um"}, 2, "75um..100um"},
		"gauge turned round": {[]string{"coat", "apply", "--part", "p-0001.1", "--product", "f-0003", "--gauge", "100um..75um"}, 2, "the last wet tooth and the next dry one"},
		"product unknown":    {[]string{"coat", "apply", "--part", "p-0001.1"}, 2, "say --product"},
		"short tap":          {[]string{"coat", "apply", "--part", "p-0001.1", "--product", "f-0003", "--tap", "x"}, 2, "the tap's id is not 8 to 64"},
		"undo what is none":  {[]string{"journal", "undo", "1"}, 2, "is no edit"},
		"archive a coat":     {[]string{"journal", "archive", "c-0001"}, 1, "is not the id of a piece, a product, a mix or a can"},
		"card of no piece":   {[]string{"piece", "card", "p-0009"}, 1, "no piece has the id"},
		"a link and no file": {[]string{"piece", "card", "p-0001", "--link", "https://shop.example/"}, 2, "name its file with --out"},
		"a link of script":   {[]string{"piece", "card", "p-0001", "--out", os.DevNull, "--link", "javascript:x"}, 2, "is no address that a phone opens"},
		"wood soaked":        {[]string{"piece", "moisture", "p-0001.1", "--wood", "900%"}, 2, "--wood"},
		"mix of nothing":     {[]string{"mix", "add", "Grey", "--by", "volume", "--part", "black=0"}, 2, "above 0"},
		"no family":          {[]string{"product", "preset", "gilding"}, 2, "one of waterborne"},
	} {
		t.Run(name, func(t *testing.T) {
			args := c.args
			if name != "no family" {
				args = append(args, "--config", s.config)
			}
			out, errs, code := call(t, args...)
			if code != c.code || strings.Count(errs, "\n") != 1 || out != "" || !strings.Contains(errs, c.want) {
				t.Errorf("exit %d (want %d), out %q:\n%s\nwant %s", code, c.code, out, errs, c.want)
			}
		})
	}
}
