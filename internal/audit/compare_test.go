package audit_test

import (
	"strings"
	"testing"
	"time"

	"recoat/internal/audit"
	"recoat/internal/audit/audittest"
	"recoat/internal/shop"
)

func TestTwoCoatsStandBesideEachOther(t *testing.T) {
	c := audit.Compare("Two nights", []audit.Record{audit.Build(audittest.Clean()), audit.Build(audittest.Condensation())})
	if len(c.Coats) != 2 || c.Coats[0].Result != audit.Held || c.Coats[1].Result != audit.Failed || c.Few == "" || len(c.Signs) != 0 {
		t.Errorf("%+v, %q", c.Coats, c.Few)
	}
	for _, l := range c.Lines {
		if l.What == "least dew margin until dry to recoat" && (l.Values[0] != "10.43" || l.Values[1] != "-2.01" || !l.Differs) {
			t.Errorf("%+v", l)
		}
		if len(l.Values) != 2 {
			t.Errorf("%+v", l)
		}
	}
}

// Of eight coats of a product the four in the damp failed, in films of any kind.
func TestWhatGoesWithFailuresIsSaidAndNothingElse(t *testing.T) {
	var records []audit.Record
	for i := range 8 {
		failed := i%2 == 0
		rh := 50.0 + float64(i)
		if failed {
			rh = 80 + float64(i)/2
		}
		e := constant(18, rh, 18)
		e.Coat.Film = 100 + shopFilm(i)
		if failed {
			e.Defects = []shop.Defect{{ID: "d-0001", Kind: "blushing", Seen: e.Made.Add(-time.Hour)}}
		} else {
			e.Touches = []shop.Touch{{ID: "t-0001", At: audittest.Evening.Add(20 * time.Hour), Feel: shop.Dry}}
		}
		records = append(records, audit.Build(e))
	}
	c := audit.Compare("Quiet Harbour", records)
	text := strings.Join(c.Signs, "\n")
	if !strings.Contains(text, "greatest relative humidity until dry to recoat: in 16 of 16 pairs the coat that failed had the higher value") {
		t.Errorf("%s", text)
	}
	if strings.Contains(text, "wet film") || strings.Contains(text, "air when put on") {
		t.Errorf("what does not go with failures is said to:\n%s", text)
	}
	few := audit.Compare("Quiet Harbour", records[:4])
	if len(few.Signs) != 0 || !strings.Contains(few.Few, "2 coats failed and 2 held") {
		t.Errorf("of four coats: %v %q", few.Signs, few.Few)
	}
}
