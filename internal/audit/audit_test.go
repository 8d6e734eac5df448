package audit_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"recoat/drying"
	"recoat/internal/audit"
	"recoat/internal/audit/audittest"
	"recoat/internal/shop"
)

func criterion(t *testing.T, r audit.Record, title string) audit.Criterion {
	t.Helper()
	for _, c := range r.Criteria {
		if c.Title == title {
			return c
		}
	}
	t.Fatalf("no criterion is called %q", title)
	return audit.Criterion{}
}

func TestACleanNightMeetsWhatWasMeasured(t *testing.T) {
	r := audit.Build(audittest.Clean())
	for _, c := range r.Criteria {
		if c.Outcome == audit.NotMet {
			t.Errorf("%s: %s (%s)", c.Title, c.Outcome, c.Why)
		}
	}
	if c := criterion(t, r, "surface above the dew point"); c.Outcome != audit.Met || *c.Limit != 3 || float64(*c.Value) < 10 {
		t.Errorf("%+v", c)
	}
	if len(r.Happened) != 0 || len(r.Preparation) != 3 || r.Outside == nil {
		t.Errorf("happened %v, %d steps, outside %v", r.Happened, len(r.Preparation), r.Outside)
	}
}

func TestDewAtDawnIsFoundAndTheGapIsSaid(t *testing.T) {
	r := audit.Build(audittest.Condensation())
	if c := criterion(t, r, "surface above the dew point"); c.Outcome != audit.NotMet || *c.Value > -1.5 {
		t.Errorf("%+v", c)
	}
	if c := criterion(t, r, "air not too warm"); c.Outcome != audit.Unknown || !strings.Contains(c.Why, "75 min were not") {
		t.Errorf("a gap counted as kept: %+v", c)
	}
	for _, w := range r.Windows {
		if w.Name == audit.ToRecoat && (len(w.Gaps) != 1 || w.Gaps[0].Min != 75 || math.Abs(float64(w.LastedMin-w.CoveredMin)-75) > 0.01) {
			t.Errorf("%+v of %v min", w.Gaps, w.LastedMin)
		}
	}
	if len(r.Defects) != 2 || r.Defects[0].Causes[0].Indication != audit.Supports || r.Defects[0].Causes[1].Indication != audit.Supports {
		t.Errorf("%+v", r.Defects[0].Causes)
	}
	if crawling := r.Defects[1]; !crawling.Seldom || crawling.Causes[0].Indication != audit.Silent {
		t.Errorf("%+v", crawling)
	}
}

func TestAirDoesNotStandInForAPieceWithoutAProbe(t *testing.T) {
	r := audit.Build(audittest.ColdFilm())
	for _, title := range []string{"surface above the dew point", "surface warm enough", "warm enough for the film to form", "wood at least 10 °C for a day"} {
		if c := criterion(t, r, title); c.Outcome != audit.Unknown || c.Value != nil {
			t.Errorf("%+v", c)
		}
	}
	for _, title := range []string{"air warm enough", "air at least 45 °F when coating", "coat below dry to recoat", "wet film not much above the label's"} {
		if c := criterion(t, r, title); c.Outcome != audit.NotMet {
			t.Errorf("%+v", c)
		}
	}
	causes := r.Defects[0].Causes
	if causes[0].Indication != audit.Leans || causes[1].Indication != audit.Supports || causes[3].Indication != audit.Supports {
		t.Errorf("%+v", causes)
	}
}

// constant is a coat under one condition all through, with the sensors' usual
// uncertainties.
func constant(air, rh, surface float64) *audit.Evidence {
	e := audittest.Clean()
	for i := range e.Samples {
		c := &e.Samples[i].Conditions
		*c = drying.Conditions{Air: celsius(air), Surface: celsius(surface), SurfaceMeasured: true}
		c.Humidity = percent(rh)
	}
	for i := range e.Sources {
		e.Sources[i].Check, e.Sources[i].Sigma = nil, []float64{0.3, 2, 0.5}[i]
	}
	return e
}

// A margin of 2.6 K ± some 1.4 K against 3 K is neither kept nor broken.
func TestADifferenceInsideItsUncertaintySettlesNothing(t *testing.T) {
	for surface, want := range map[float64]audit.Outcome{16.9: audit.Unknown, 17.3: audit.Unknown, 19.5: audit.Met, 15.0: audit.NotMet} {
		c := criterion(t, audit.Build(constant(20, 70, surface)), "surface above the dew point")
		if c.Outcome != want {
			t.Errorf("a surface at %v °C: %s ± %s against %s is %s, want %s", surface, c.Value, c.Expanded, c.Limit, c.Outcome, want)
		}
	}
}

func indication(t *testing.T, e *audit.Evidence, kind string, cause int) audit.CauseFacts {
	t.Helper()
	e.Defects = []shop.Defect{{ID: "d-0009", Kind: kind, Seen: audittest.Evening.Add(time.Hour)}}
	return audit.Build(e).Defects[0].Causes[cause]
}

func TestIndicationsFollowTheEvidence(t *testing.T) {
	damp, dry := constant(20, 82, 19.5), constant(24, 30, 24)
	if c := indication(t, damp, "blushing", 0); c.Indication != audit.Supports {
		t.Errorf("damp: %+v", c)
	}
	if c := indication(t, dry, "blushing", 0); c.Indication != audit.Contradicts {
		t.Errorf("dry: %+v", c)
	}
	gapped := constant(24, 30, 24)
	kept := gapped.Samples[:0]
	for _, s := range gapped.Samples {
		if d := s.At.Sub(audittest.Evening); d < 5*time.Minute || d > 4*time.Hour {
			kept = append(kept, s)
		}
	}
	gapped.Samples = kept
	if c := indication(t, gapped, "blushing", 0); c.Indication != audit.Silent {
		t.Errorf("with a gap: %+v", c)
	}
	bare := constant(20, 60, 20)
	for i := range bare.Samples {
		bare.Samples[i].SurfaceMeasured = false
	}
	bare.Sources = bare.Sources[:2]
	if c := indication(t, bare, "peeling-to-wood", 2); c.Indication != audit.Silent {
		t.Errorf("without a probe: %+v", c)
	}
	if c := indication(t, constant(20, 82, 12), "crawling", 1); c.Indication != audit.Leans {
		t.Errorf("a defect that conditions seldom explain: %+v", c)
	}
	if c := indication(t, damp, "yellowing", 0); c.Indication != audit.Silent || len(c.Evidence) != 0 {
		t.Errorf("what no reading tells: %+v", c)
	}
}

func TestEveryKindOfDefectIsWhole(t *testing.T) {
	seen, seldom := map[string]bool{}, 0
	for _, k := range audit.Kinds() {
		if seen[k.Code] || k.Title == "" || k.Remedy == "" || k.Source == "" {
			t.Errorf("%+v", k)
		}
		seen[k.Code] = true
		if k.Seldom {
			seldom++
		}
		e := audittest.Clean()
		e.Defects = []shop.Defect{{ID: "d-0001", Kind: k.Code, Seen: e.Made}}
		facts := audit.Build(e).Defects[0]
		if facts.Title != k.Title || len(facts.Causes) == 0 {
			t.Errorf("%s: %+v", k.Code, facts)
		}
	}
	if len(seen) != 30 || seldom != 8 {
		t.Errorf("%d kinds, %d of them seldom from conditions: 30 and 8 were meant", len(seen), seldom)
	}
}

func document(t *testing.T) audit.Document {
	t.Helper()
	d := audit.Document{Format: audit.FormatName, Schema: 1, Title: "Coat c-0007", Made: audittest.Evening, Zone: "+00:00", Coats: []audit.Record{audit.Build(audittest.Condensation())}}
	var err error
	if d.Digest, err = d.Reckon(); err != nil {
		t.Fatal(err)
	}
	return d
}

// Whatever byte of a document is altered, it is found, unless it is white space
// between its parts.
func TestAnyAlteredByteOfADocumentIsFound(t *testing.T) {
	text, err := json.Marshal(document(t))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := audit.Check(bytes.NewReader(text)); err != nil {
		t.Fatal(err)
	}
	random := rand.New(rand.NewPCG(20, 31))
	for range 1000 {
		bad := bytes.Clone(text)
		at := random.IntN(len(bad))
		bad[at] ^= byte(1 + random.IntN(255))
		if c, err := audit.Check(bytes.NewReader(bad)); err == nil {
			t.Errorf("byte %d: %q for %q went unseen: %+v", at, bad[at], text[at], c.Evidence)
		}
	}
	twice := bytes.Replace(text, []byte(`"schema":1`), []byte(`"title":"Another","schema":1`), 1)
	if _, err := audit.Check(bytes.NewReader(twice)); !errors.Is(err, audit.ErrAltered) {
		t.Errorf("a key twice: %v", err)
	}
}

func FuzzCheck(f *testing.F) {
	f.Add([]byte(`{"format":"recoat record","schema":1}`))
	f.Add([]byte("<!doctype html>" + audit.DocumentIn + "{}</script>"))
	f.Add([]byte(strings.Join(audit.Columns(), ",") + "\nsha256,00\n"))
	f.Fuzz(func(t *testing.T, raw []byte) {
		if c, err := audit.Check(bytes.NewReader(raw)); err == nil && c.Document == nil && c.Lines == 0 && c.Evidence == [32]byte{} {
			t.Errorf("%q passes for a record", raw)
		}
	})
}
