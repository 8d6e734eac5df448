package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// shell is a journal of its own, written to from the shell.
type shell struct {
	t      *testing.T
	config string
	data   string
}

func newShell(t *testing.T) shell {
	config, data := writeConfig(t, "https://phone.example/x")
	return shell{t, config, data}
}

// must runs a command that has to work and returns what it writes.
func (s shell) must(args ...string) (stdout, stderr string) {
	s.t.Helper()
	stdout, stderr, code := call(s.t, append(args, "--config", s.config)...)
	if code != 0 {
		s.t.Fatalf("%v: exit %d: %s", args, code, stderr)
	}
	return stdout, stderr
}

// json runs a command with --json and reads what it writes.
func (s shell) json(into any, args ...string) {
	s.t.Helper()
	out, _ := s.must(append(args, "--json")...)
	if err := json.Unmarshal([]byte(out), into); err != nil {
		s.t.Fatalf("%v: %v in %s", args, err, out)
	}
}

const oldShellac = `
name = "Plum Tree shellac"
family = "solvent"
kind = "shellac"
[stated]
air = "20C"
rh = 50
recoat = "3h"
`

const hardEnamel = `
name = "Stone Stair enamel"
family = "oxidising"
kind = "alkyd"
[stated]
air = "23C"
rh = 50
recoat = "16h"
recoat_by = "72h"
`

const seaClear = `
name = "Sea Glass clear"
family = "waterborne"
kind = "acrylic"
[stated]
air = "23C"
rh = 50
film = "100um"
recoat = "2h"
recoat_by = "72h"
`

func (s shell) furnish() {
	s.t.Helper()
	for _, label := range []string{oldShellac, hardEnamel, seaClear} {
		s.must("product", "add", write(s.t, "label.toml", label))
	}
	s.must("piece", "add", "Wash stand", "--part", "top:oak:22mm", "--part", "legs, turned", "--part", "rail:pine")
}

func TestTheJournalFromTheShell(t *testing.T) {
	s := newShell(t)
	s.furnish()
	var products []map[string]any
	s.json(&products, "product", "list")
	if len(products) != 3 || products[1]["name"] != "Sea Glass clear" || products[1]["recoat_by_min"] != 4320.0 || products[1]["stated_film_um"] != 100.0 {
		t.Errorf("products: %v", products)
	}
	var piece struct {
		ID    string
		Parts []map[string]any
		Coats []map[string]any
	}
	s.json(&piece, "piece", "show", "p-0001")
	if len(piece.Parts) != 3 || piece.Parts[0]["thickness_mm"] != 22.0 || piece.Parts[1]["name"] != "legs, turned" || piece.Parts[2]["room"] != "back-room" || piece.Coats == nil {
		t.Errorf("piece: %+v", piece)
	}
	yesterday := time.Now().Add(-24 * time.Hour).Truncate(time.Second)
	var coat map[string]any
	s.json(&coat, "coat", "apply", "--part", "p-0001.1", "--product", "f-0003", "--at", yesterday.Format(time.RFC3339),
		"--film", "4mil", "--method", "brush", "--batch", "B7", "--mix", "5 % water")
	if coat["id"] != "c-0001" || coat["film_um"] != 101.6 || coat["product_name"] != "Sea Glass clear" || coat["batch"] != "B7" || coat["mix"] != "5 % water" || coat["method"] != "brush" {
		t.Errorf("coat: %v", coat)
	}
	if at, err := time.Parse(time.RFC3339, coat["applied"].(string)); err != nil || !at.Equal(yesterday) {
		t.Errorf("applied: %v, %v", coat["applied"], err)
	}
	out, _ := s.must("coat", "apply", "--part", "p-0001.2", "--product", "f-0003")
	if !strings.Contains(out, "c-0002  Sea Glass clear on Wash stand, legs, turned, at ") || !strings.Contains(out, "local rules") {
		t.Errorf("for people: %s", out)
	}
	s.must("coat", "undo", "c-0002")
	s.must("coat", "note", "c-0001", "a little thin at the back")
	var coats []map[string]any
	s.json(&coats, "coat", "list", "--piece", "p-0001", "--undone")
	if len(coats) != 2 || coats[0]["note"] != "a little thin at the back" || coats[1]["undone"] == nil {
		t.Errorf("coats: %v", coats)
	}
	s.json(&coats, "coat", "list", "--room", "nowhere")
	if coats == nil || len(coats) != 0 {
		t.Errorf("none: %v", coats)
	}
	s.must("touch", "add", "--coat", "c-0001", "--found", "tacky", "--at", yesterday.Add(time.Hour).Format(time.RFC3339))
	s.must("touch", "add", "--coat", "c-0001", "--found", "dry")
	var touches []map[string]any
	s.json(&touches, "touch", "list", "--coat", "c-0001")
	if len(touches) != 2 || touches[0]["feel"] != "tacky" || touches[1]["id"] != "t-0002" {
		t.Errorf("touches: %v", touches)
	}
	for _, args := range [][]string{{"product", "list"}, {"piece", "list"}, {"coat", "list"}, {"touch", "list", "--coat", "c-0001"}, {"piece", "show", "p-0001"}} {
		if out, _ := s.must(args...); strings.Count(out, "\n") < 2 {
			t.Errorf("%v: %s", args, out)
		}
	}
}

// What is shown of a product can be taken in again, and is the same product.
func TestAShownProductIsAProductFile(t *testing.T) {
	s := newShell(t)
	s.furnish()
	shown, _ := s.must("product", "show", "f-0002")
	if !strings.Contains(shown, "# not on the label, taken as usual for the kind: stated.film") || strings.Contains(shown, "\nfilm =") {
		t.Errorf("shown: %s", shown)
	}
	out, _ := s.must("product", "add", write(t, "again.toml", shown))
	if out != "f-0002  Stone Stair enamel, version 1\n" {
		t.Errorf("taken in again: %s", out)
	}
}

func TestACoatIsAppliedWithAdviceAndNeverStopped(t *testing.T) {
	s := newShell(t)
	s.furnish()
	at := func(ago time.Duration) string { return time.Now().Add(-ago).Format(time.RFC3339) }
	enamel := func(part string, ago time.Duration) {
		s.must("coat", "apply", "--part", part, "--product", "f-0002", "--at", at(ago))
	}
	enamel("p-0001.1", 100*time.Hour)
	_, advice := s.must("coat", "apply", "--part", "p-0001.1", "--product", "f-0003", "--at", at(0))
	for _, want := range []string{"within 72h, and 4d4h have passed: abrade first", "Sea Glass clear over Stone Stair enamel: abrade.", "high confidence; source: MIL-HDBK-1110"} {
		if !strings.Contains(advice, want) {
			t.Errorf("no %q in: %s", want, advice)
		}
	}
	enamel("p-0001.2", 100*time.Hour)
	if _, advice := s.must("coat", "apply", "--part", "p-0001.2", "--product", "f-0003", "--abraded"); advice != "" {
		t.Errorf("abraded and waited for: %s", advice)
	}
	enamel("p-0001.3", 20*time.Hour)
	_, advice = s.must("coat", "apply", "--part", "p-0001.3", "--product", "f-0001", "--at", at(time.Hour))
	if !strings.Contains(advice, "Plum Tree shellac over Stone Stair enamel: wait until it is hard dry.") || strings.Contains(advice, "say why") {
		t.Errorf("shellac: %s", advice)
	}
	var coat struct {
		Advice []struct {
			Do     []string
			Reason string
			Wait   float64 `json:"wait_min"`
		}
	}
	s.json(&coat, "coat", "apply", "--part", "p-0001.3", "--product", "f-0003", "--at", at(time.Minute), "--over", "waxy-shellac")
	if len(coat.Advice) != 2 || coat.Advice[0].Reason != "before-recoat" || coat.Advice[0].Wait != 180 || coat.Advice[1].Reason != "wax-or-silicone" {
		t.Errorf("%+v", coat.Advice)
	}
	_, advice = s.must("coat", "apply", "--part", "p-0001.3", "--product", "f-0003", "--over", "lacquer", "--as", "solvent-two-part")
	if !strings.Contains(advice, "better not; if it must be, try a hidden patch first.") || !strings.Contains(advice, "say why: recoat coat edit c-0008 --reason TEXT") {
		t.Errorf("to be avoided: %s", advice)
	}
}

func TestOwnRulesLieInTheDataFolder(t *testing.T) {
	s := newShell(t)
	s.furnish()
	path := filepath.Join(s.data, "compatibility.toml")
	rule := "[[rule]]\nbelow = [\"unknown-film\"]\nabove = [\"waterborne\"]\ndo = [\"patch\"]\nnote = \"As the last three of that maker did.\"\n"
	if err := os.WriteFile(path, []byte(rule), 0o600); err != nil {
		t.Fatal(err)
	}
	_, advice := s.must("coat", "apply", "--part", "p-0001.1", "--product", "f-0003", "--over", "unknown-film")
	if !strings.Contains(advice, "As the last three of that maker did.") {
		t.Error(advice)
	}
	if err := os.WriteFile(path, []byte("[[rules]]\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	_, errs, code := call(t, "coat", "apply", "--part", "p-0001.2", "--product", "f-0003", "--config", s.config)
	if code != 1 || !strings.Contains(errs, "compatibility.toml: line 1") {
		t.Errorf("exit %d: %s", code, errs)
	}
	var coats []any
	if s.json(&coats, "coat", "list"); len(coats) != 1 {
		t.Errorf("%d coats: one was recorded whose rules could not be read", len(coats))
	}
}

func TestMistakesAtTheJournalGetOneClearLine(t *testing.T) {
	s := newShell(t)
	s.furnish()
	s.must("coat", "apply", "--part", "p-0001.1", "--product", "f-0001")
	coat := func(args ...string) []string {
		return append([]string{"coat", "apply", "--part", "p-0001.2", "--product", "f-0001"}, args...)
	}
	for name, c := range map[string]struct {
		args []string
		code int
		want []string
	}{
		"no such file":      {[]string{"product", "add", "nowhere.toml"}, 1, []string{"nowhere.toml", "no such file"}},
		"no such product":   {[]string{"product", "show", "f-0009"}, 1, []string{`no product has the id "f-0009"`}},
		"a name for an id":  {[]string{"product", "show", "Sea Glass clear"}, 1, []string{"is not the id of a product, such as f-0007"}},
		"no part":           {[]string{"piece", "add", "Chair"}, 2, []string{"--part"}},
		"four fields":       {[]string{"piece", "add", "Chair", "--part", "a:b:2mm:d"}, 2, []string{"too many colons", "top:oak:22mm"}},
		"thickness":         {[]string{"piece", "add", "Chair", "--part", "a:b:22"}, 2, []string{"--part", `"22" has no unit`, "18mm"}},
		"no such room":      {[]string{"piece", "add", "Chair", "--part", "a", "--room", "attic"}, 1, []string{`no room has the id "attic"`}},
		"empty name":        {[]string{"piece", "add", " ", "--part", "a"}, 2, []string{"the piece's name is empty"}},
		"no such piece":     {[]string{"piece", "show", "p-0002"}, 1, []string{`no piece has the id "p-0002"`}},
		"no such part":      {[]string{"piece", "place", "p-0001.7", "--room", "back-room"}, 1, []string{`no part has the id "p-0001.7"`}},
		"film without unit": {coat("--film", "100"), 2, []string{"--film", "100um or 4mil"}},
		"future":            {coat("--at", "2999-01-01 12:00"), 2, []string{"lies in the future"}},
		"time without form": {coat("--at", "noon"), 2, []string{"--at", "2026-03-01 21:30"}},
		"method":            {coat("--method", "broom"), 2, []string{"brush, roller, spray, pad or wipe"}},
		"class":             {coat("--over", "gold"), 2, []string{"--over", "gold", "unknown-film"}},
		"no such coat":      {[]string{"coat", "undo", "c-0009"}, 1, []string{`no coat has the id "c-0009"`}},
		"note on none":      {[]string{"coat", "note", "c-0009", "x"}, 1, []string{`no coat has the id "c-0009"`}},
		"long note":         {[]string{"coat", "note", "c-0001", strings.Repeat("x", 501)}, 2, []string{"the note has 501 characters"}},
		"list of no piece":  {[]string{"coat", "list", "--piece", "Chair"}, 1, []string{"is not the id of a piece"}},
		"found":             {[]string{"touch", "add", "--coat", "c-0001", "--found", "soft"}, 2, []string{"wet, tacky or dry"}},
		"touch on none":     {[]string{"touch", "add", "--coat", "c-0009", "--found", "dry"}, 1, []string{`no coat has the id "c-0009"`}},
		"touches of none":   {[]string{"touch", "list", "--coat", "c-0009"}, 1, []string{`no coat has the id "c-0009"`}},
		"touch before it":   {[]string{"touch", "add", "--coat", "c-0001", "--found", "dry", "--at", "2020-01-01 12:00"}, 2, []string{"before the coat was put on"}},
	} {
		t.Run(name, func(t *testing.T) {
			out, errs, code := call(t, append(c.args, "--config", s.config)...)
			if code != c.code || strings.Count(errs, "\n") != 1 || !strings.HasPrefix(errs, "recoat: ") || out != "" {
				t.Errorf("exit %d (want %d), out %q:\n%s", code, c.code, out, errs)
			}
			for _, want := range c.want {
				if !strings.Contains(errs, want) {
					t.Errorf("no %q in: %s", want, errs)
				}
			}
		})
	}
}

// A recoat that runs holds the folder against a second one, but not against
// the shell; and what the shell writes is in the journal that it has open.
func TestTheShellWritesBesideARunningRecoat(t *testing.T) {
	s := newShell(t)
	cfg, err := loadConfig(s.config)
	if err != nil {
		t.Fatal(err)
	}
	p := &parts{}
	t.Cleanup(func() { _ = p.close() })
	h := &house{cfg: cfg, parts: p}
	if err := h.open(t.Context(), s.data); err != nil {
		t.Fatal(err)
	}
	tick := h.journal.Watch(t.Context())
	s.furnish()
	s.must("coat", "apply", "--part", "p-0001.1", "--product", "f-0001")
	select {
	case <-tick:
	case <-time.After(10 * time.Second):
		t.Fatal("the open journal did not notice")
	}
	if coats, err := h.journal.OpenCoats(t.Context(), cfg.Room.ID); err != nil || len(coats) != 1 {
		t.Errorf("%v, %v", coats, err)
	}
}
