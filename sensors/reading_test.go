package sensors

import "testing"

func TestQualityNames(t *testing.T) {
	for q := Good; q <= Missing; q++ {
		if got, err := ParseQuality(q.String()); err != nil || got != q {
			t.Errorf("%s parses as %v, %v", q, got, err)
		}
	}
	if got, err := ParseQuality("fine"); err == nil || got != Missing {
		t.Errorf(`"fine" parses as %v, %v`, got, err)
	}
	if got := (Missing + 1).String(); got != "quality 5" {
		t.Errorf("a quality that is none is called %q", got)
	}
}

func TestRoundGivesGoodValuesOnly(t *testing.T) {
	air := Channel{Quantity: AirTemperature}
	probe := Channel{SurfaceTemperature, "28-1"}
	r := Round{Readings: []Reading{{Channel: air, Value: 20}, {Channel: probe, Value: 12, Quality: Suspect}}}
	if v, ok := r.Value(air); !ok || v != 20 {
		t.Errorf("air is %v, %v", v, ok)
	}
	for _, c := range []Channel{probe, {Quantity: SurfaceTemperature}, {Quantity: AirHumidity}} {
		if v, ok := r.Value(c); ok {
			t.Errorf("%s is %v, want nothing", c, v)
		}
	}
}
