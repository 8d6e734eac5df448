package film

import (
	"math"
	"strings"
	"testing"

	"recoat/drying"
	"recoat/internal/quantity"
)

func near(t *testing.T, what string, got float64, err error, want, within float64) {
	t.Helper()
	if err != nil || math.Abs(got-want) > within {
		t.Errorf("%s: %v, %v; want %v", what, got, err, want)
	}
}

// Worked by hand from the definitions: 1 mL is 1 cm³, so over 1 m² it is 1 µm
// deep; an inch is 25.4 mm, a foot 12 of them, a US gallon 231 in³ (NIST SP
// 811, appendix B).
func TestWorkedExamples(t *testing.T) {
	wet, err := Wet(100, 1, 1)
	near(t, "100 mL on 1 m²", float64(wet), err, 100, 1e-9)
	dry, err := Dry(wet, 0.35)
	near(t, "of 35 % solids", float64(dry), err, 35, 1e-9)
	thinned, err := Thinned(0.35, 0.1)
	near(t, "thinned by a tenth", float64(thinned), err, 0.35/1.1, 1e-12)
	dry, err = Dry(wet, thinned)
	near(t, "and its film", float64(dry), err, 31.8, 0.05)
	mil, err := quantity.ParseFilm("4mil")
	near(t, "4 mil", float64(mil), err, 101.6, 1e-9)
	rate, err := SpreadRate(35, 0.35)
	near(t, "spread at 35 µm", rate, err, 10, 1e-9)
	volume, err := Needed(100, 0.25, 0.5)
	near(t, "half of it lost", float64(volume), err, 50, 1e-9)
	volume, err = Volume(120, 1.2)
	near(t, "120 g at 1.2", float64(volume), err, 100, 1e-9)
	mass, err := Mass(100, 1.2)
	near(t, "and back", float64(mass), err, 120, 1e-9)
}

// The American rule: 1604 ft²/gal × solids / mils (published rounded to 1600 in
// MIL-HDBK-1110 2.1.5; 231 in³ over 1 ft² is 1604.17 mil deep). At 35 % and
// 2 mil that is 280.7.
func TestSpreadRateAgreesWithTheAmericanRule(t *testing.T) {
	const feetPerMetre = 1 / 0.3048
	const litresPerGallon = 231 * 0.0254 * 0.0254 * 0.0254 * 1000
	const perGallon = feetPerMetre * feetPerMetre * litresPerGallon
	near(t, "1 m²/L in ft²/gal", perGallon, nil, 40.746, 0.0005)
	two, err := quantity.ParseFilm("2mil")
	if err != nil {
		t.Fatal(err)
	}
	rate, err := SpreadRate(two, 0.35)
	near(t, "35 % at 2 mil", rate*perGallon, err, 280.7, 0.05)
	one, err := quantity.ParseFilm("1mil")
	if err != nil {
		t.Fatal(err)
	}
	rate, err = SpreadRate(one, 1)
	near(t, "all solids at 1 mil", rate*perGallon, err, 1604.17, 0.005)
}

func TestNeededIsTheInverseOfWet(t *testing.T) {
	for _, film := range []drying.Microns{1, 40, 101.6, 2000} {
		for _, area := range []SquareMetres{0.01, 0.5, 12} {
			for _, transfer := range []Share{0.25, 0.65, 1} {
				v, err := Needed(film, area, transfer)
				if err != nil {
					t.Fatal(err)
				}
				back, err := Wet(v, area, transfer)
				near(t, "and back", float64(back), err, float64(film), 1e-9*float64(film))
			}
		}
	}
}

func TestGauge(t *testing.T) {
	teeth := []drying.Microns{25, 50, 75, 100, 125}
	for wetted, want := range map[int32]Interval{0: {0, 25}, 1: {25, 50}, 3: {75, 100}, 4: {100, 125}} {
		if got, err := Gauge(teeth, wetted); err != nil || got != want {
			t.Errorf("%d wet: %v, %v; want %v", wetted, got, err, want)
		}
	}
	for says, c := range map[string]struct {
		teeth  []drying.Microns
		wetted int32
	}{
		"every tooth is wet":           {teeth, 5},
		"6 wet teeth cannot be":        {teeth, 6},
		"-1 wet teeth cannot be":       {teeth, -1},
		"the tooth of 50um follows":    {[]drying.Microns{25, 50, 50}, 1},
		"a tooth in µm of 0 cannot be": {[]drying.Microns{0, 50}, 1},
		"every tooth is wet: the film": {nil, 0},
	} {
		if _, err := Gauge(c.teeth, c.wetted); err == nil || !strings.HasPrefix(err.Error(), says) {
			t.Errorf("%v; want %s", err, says)
		}
	}
}

func TestWhatCannotBeIsRefused(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, bad := range []float64{0, -1, nan, inf, 1e9} {
		calls := map[string]error{}
		_, calls["volume of Wet"] = Wet(Millilitres(bad), 1, 1)
		_, calls["area of Wet"] = Wet(100, SquareMetres(bad), 1)
		_, calls["transfer of Wet"] = Wet(100, 1, Share(bad))
		_, calls["film of Needed"] = Needed(drying.Microns(bad), 1, 1)
		_, calls["area of Needed"] = Needed(100, SquareMetres(bad), 1)
		_, calls["transfer of Needed"] = Needed(100, 1, Share(bad))
		_, calls["film of Dry"] = Dry(drying.Microns(bad), 0.5)
		_, calls["solids of Dry"] = Dry(100, Share(bad))
		_, calls["solids of Thinned"] = Thinned(Share(bad), 0.1)
		_, calls["film of SpreadRate"] = SpreadRate(drying.Microns(bad), 0.5)
		_, calls["solids of SpreadRate"] = SpreadRate(100, Share(bad))
		_, calls["mass of Volume"] = Volume(Grams(bad), 1)
		_, calls["density of Volume"] = Volume(100, Density(bad))
		_, calls["volume of Mass"] = Mass(Millilitres(bad), 1)
		_, calls["density of Mass"] = Mass(100, Density(bad))
		if bad != 0 {
			_, calls["thinner"] = Thinned(0.5, bad)
		}
		for what, err := range calls {
			if err == nil {
				t.Errorf("%s took %v", what, bad)
			}
		}
	}
	if s, err := Thinned(0.35, 0); err != nil || s != 0.35 {
		t.Errorf("not thinned: %v, %v", s, err)
	}
}
