package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func TestACoatOutOfACan(t *testing.T) {
	s := newShell(t)
	s.furnish()
	s.must("shelf", "add", "--product", "f-0003", "--amount", "0.75L", "--batch", "B7", "--keeps", "30d", "--opened", time.Now().Add(-31*24*time.Hour).Format(time.RFC3339))
	s.must("shelf", "add", "--product", "f-0003", "--amount", "250mL", "--best-by", "2049-01-31")
	var coat struct {
		Film  float64 `json:"film_um"`
		Used  float64 `json:"used_ml"`
		Can   string
		Batch string
		Shelf []struct {
			Can      string
			Warnings []string
		}
	}
	s.json(&coat, "coat", "apply", "--part", "p-0001.1", "--product", "f-0003", "--used", "120mL", "--area", "1.5m2", "--method", "roller", "--can", "s-0001")
	if math.Abs(coat.Film-80) > 1e-9 || coat.Used != 120 || coat.Can != "s-0001" || coat.Batch != "B7" { // 120 mL on 1.5 m²
		t.Errorf("%+v", coat)
	}
	if len(coat.Shelf) != 1 || coat.Shelf[0].Can != "s-0001" || len(coat.Shelf[0].Warnings) != 1 || !strings.Contains(coat.Shelf[0].Warnings[0], "was good until") {
		t.Errorf("%+v", coat.Shelf)
	}
	_, warned := s.must("coat", "apply", "--part", "p-0001.2", "--product", "f-0003", "--used", "300mL", "--can", "s-0002", "--film", "4mil", "--area", "1m2")
	if warned != "Shelf: s-0002 holds about 250mL, less than the 300mL that are needed\n" {
		t.Error(warned)
	}
	var cans []struct {
		ID       string
		Left     float64 `json:"left_ml"`
		Keeps    int     `json:"keeps_d"`
		Warnings []string
	}
	s.json(&cans, "shelf", "list")
	if len(cans) != 1 || cans[0].Left != 630 || cans[0].Keeps != 30 || len(cans[0].Warnings) != 1 {
		t.Errorf("%+v", cans)
	}
	s.json(&cans, "shelf", "list", "--empty", "--product", "f-0003")
	if len(cans) != 2 || cans[1].Left != 0 {
		t.Errorf("%+v", cans)
	}
	s.must("shelf", "open", "s-0002")
	s.must("shelf", "measure", "s-0002", "--left", "100mL")
	s.must("shelf", "measure", "s-0001", "--empty")
	out, _ := s.must("shelf", "list")
	if strings.Contains(out, "s-0001") || !strings.Contains(out, "100mL") || !strings.Contains(out, "2049-01-31") {
		t.Error(out)
	}
}

func TestAMixScaledAndPutOn(t *testing.T) {
	s := newShell(t)
	s.furnish()
	s.must("mix", "add", "Harbour grey", "--by", "volume", "--part", "base, clear=3", "--part", "black=1/3")
	s.must("mix", "add", "Slate", "--by", "mass", "--part", "base=9", "--part", "blue=1")
	var scaled struct {
		ML    float64 `json:"amount_ml"`
		G     float64 `json:"amount_g"`
		Parts []struct {
			Name, Exact string
			ML          float64 `json:"amount_ml"`
			G           float64 `json:"amount_g"`
		}
	}
	s.json(&scaled, "mix", "scale", "m-0001", "--amount", "0.25L")
	if scaled.ML != 250 || len(scaled.Parts) != 2 || scaled.Parts[0].ML != 225 || scaled.Parts[1].Exact != "25" || scaled.Parts[0].Name != "base, clear" {
		t.Errorf("%+v", scaled)
	}
	// 50 µm on 0.2 m² is 10 mL, and at 1.3 g/mL 13 g.
	s.json(&scaled, "mix", "scale", "m-0002", "--area", "0.2m2", "--film", "50um", "--density", "1.3g/mL")
	if scaled.G != 13 || scaled.Parts[0].G != 11.7 || scaled.Parts[1].Exact != "13/10" {
		t.Errorf("%+v", scaled)
	}
	out, _ := s.must("mix", "scale", "m-0001", "--area", "100cm2", "--film", "100um")
	if strings.Join(strings.Fields(out), " ") != "base, clear 0.90 mL black 0.10 mL Harbour grey 1.00 mL" {
		t.Error(out)
	}
	out, _ = s.must("mix", "list")
	if !strings.Contains(out, "m-0001  Harbour grey, by volume: 3 base, clear, 1/3 black\n") {
		t.Error(out)
	}
	var coat map[string]any
	s.json(&coat, "coat", "apply", "--part", "p-0001.1", "--product", "f-0003", "--recipe", "m-0001")
	if coat["recipe"] != "m-0001" {
		t.Error(coat)
	}
	var mixes []struct {
		Parts []struct{ Share string }
	}
	s.json(&mixes, "mix", "list")
	if len(mixes) != 2 || mixes[0].Parts[1].Share != "1/3" {
		t.Errorf("%+v", mixes)
	}
}

func TestBackupAndRestore(t *testing.T) {
	s := newShell(t)
	s.furnish()
	s.must("coat", "apply", "--part", "p-0001.1", "--product", "f-0003")
	first, second := filepath.Join(t.TempDir(), "first.json"), filepath.Join(t.TempDir(), "second.json")
	s.must("journal", "backup", first)
	other := newShell(t)
	other.must("journal", "restore", first)
	var report map[string]any
	other.json(&report, "journal", "backup", second)
	was, err := os.ReadFile(first)
	if err != nil {
		t.Fatal(err)
	}
	is, err := os.ReadFile(second)
	if err != nil || string(was) != string(is) || !json.Valid(was) || report["size_bytes"] != float64(len(is)) {
		t.Errorf("%v, %v, %d bytes became %d", err, report, len(was), len(is))
	}
	var pieces []any
	if other.json(&pieces, "piece", "list"); len(pieces) != 1 {
		t.Errorf("%v", pieces)
	}
}

func TestMistakesOfShelfMixAndBackupGetOneClearLine(t *testing.T) {
	s := newShell(t)
	s.furnish()
	s.must("shelf", "add", "--product", "f-0003", "--amount", "0.75L", "--opened", "2026-01-01 12:00")
	s.must("mix", "add", "Slate", "--by", "mass", "--part", "base=9", "--part", "blue=1")
	there := write(t, "there.json", "{}")
	coat := func(args ...string) []string {
		return append([]string{"coat", "apply", "--part", "p-0001.2", "--product", "f-0001"}, args...)
	}
	scale := func(args ...string) []string { return append([]string{"mix", "scale", "m-0001"}, args...) }
	for name, c := range map[string]struct {
		args []string
		code int
		want []string
	}{
		"amount without unit":    {[]string{"shelf", "add", "--product", "f-0003", "--amount", "750"}, 2, []string{"--amount", "250mL"}},
		"hours of keeping":       {[]string{"shelf", "add", "--product", "f-0003", "--amount", "1L", "--keeps", "30h"}, 2, []string{"--keeps", "180d"}},
		"no day":                 {[]string{"shelf", "add", "--product", "f-0003", "--amount", "1L", "--best-by", "June"}, 2, []string{"--best-by", "2027-06-30"}},
		"no such product":        {[]string{"shelf", "add", "--product", "f-0009", "--amount", "1L"}, 1, []string{`no product has the id "f-0009"`}},
		"opened twice":           {[]string{"shelf", "open", "s-0001"}, 2, []string{"was opened already"}},
		"measured by nothing":    {[]string{"shelf", "measure", "s-0001"}, 2, []string{"--left 300mL", "--empty"}},
		"measured by both":       {[]string{"shelf", "measure", "s-0001", "--left", "1mL", "--empty"}, 2, []string{"--left 300mL", "--empty"}},
		"another product's can":  {coat("--can", "s-0001"), 2, []string{"the can s-0001 holds Sea Glass clear"}},
		"area without volume":    {coat("--area", "1m2", "--method", "brush"), 2, []string{"such as 120mL"}},
		"area of a spray":        {coat("--area", "1m2", "--used", "100mL", "--method", "spray"), 2, []string{"measure the film"}},
		"area too large":         {coat("--area", "1000m2", "--used", "1mL", "--method", "brush"), 2, []string{"the film of 0.001 µm cannot be"}},
		"no such mix":            {coat("--recipe", "m-0009"), 1, []string{`no mix has the id "m-0009"`}},
		"share":                  {[]string{"mix", "add", "Grey", "--by", "volume", "--part", "black=some"}, 2, []string{"--part", "3, 1.5 or 3/2"}},
		"no share":               {[]string{"mix", "add", "Grey", "--by", "volume", "--part", "black"}, 2, []string{"--part", "black=1/3"}},
		"basis":                  {[]string{"mix", "add", "Grey", "--by", "taste", "--part", "black=1"}, 2, []string{"by volume or by mass"}},
		"no amount":              {scale(), 2, []string{"--amount", "250mL", "--area"}},
		"volume for mass":        {scale("--amount", "250mL"), 2, []string{"250g"}},
		"area without film":      {scale("--area", "1m2"), 2, []string{"--film", "100um"}},
		"area without density":   {scale("--area", "1m2", "--film", "100um"), 2, []string{"--density", "1.2g/mL"}},
		"backup over a file":     {[]string{"journal", "backup", there}, 1, []string{"there.json", "name a file that is not there"}},
		"restore over a journal": {[]string{"journal", "restore", there}, 1, []string{"there is a journal already", "move it aside"}},
		"restore of nothing":     {[]string{"journal", "restore", "nowhere.json"}, 1, []string{"nowhere.json", "no such file"}},
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

// A restore that fails leaves no journal behind, and none that runs is written
// under.
func TestARestoreIsWholeOrNotThere(t *testing.T) {
	s := newShell(t)
	_, errs, code := call(t, "journal", "restore", write(t, "b.json", `{"format":"recoat journal"`), "--config", s.config)
	if code != 1 || !strings.Contains(errs, "not a whole backup of a journal") {
		t.Errorf("exit %d: %s", code, errs)
	}
	if _, err := os.Stat(folder(s.data).journal()); !os.IsNotExist(err) {
		t.Error("a journal was left", err)
	}
	_, release, err := openFolder(s.data)
	if err != nil {
		t.Fatal(err)
	}
	defer release()
	_, errs, code = call(t, "journal", "restore", write(t, "b.json", fmt.Sprintf(`{"format":%q}`, "x")), "--config", s.config)
	if code != 1 || !strings.Contains(errs, "in use by another recoat") {
		t.Errorf("exit %d: %s", code, errs)
	}
}
