package room

import (
	"math"
	"testing"
	"time"

	"recoat/drying"
	"recoat/drying/forecast"
	"recoat/drying/surface"
	"recoat/drying/wood"
	"recoat/sensors"
)

// A cold room is warmed in the evening, and a coat goes on at once. A thick part
// without a probe is reckoned to dry as one whose probe shows the published lag
// of such a board (45 mm: a tenth of the difference left after 110 minutes,
// computed from the Wood Handbook's figures), and later than if its surface were
// as warm as the air.
func TestAThickPartWithoutAProbeLagsTheAir(t *testing.T) {
	const began = 7 * time.Hour
	board := wood.Typical(0.045)
	w := recorded()
	thick, probed, thin := job(t, "thick", began, ""), job(t, "probed", began, "p1"), job(t, "thin", began, "")
	thick.ThicknessMM = 45
	w.minutely(0, began, warm(12), damp(50), surfaceAt("p1", 12))
	w.follow(thick, probed, thin)
	for d := began; d < began+4*time.Hour; d += time.Minute {
		w.hear(d, ours("bench", d, warm(22), damp(50), surfaceAt("p1", 22-10*board.Lag(d-began))))
	}
	ready := func(coat string) time.Time { return w.estimate(t, coat, drying.SetToTouch).Likely }
	if off := ready("thick").Sub(ready("probed")); off.Abs() > 2*time.Minute {
		t.Errorf("set to touch %s after the probed one", off)
	}
	if gain := ready("thick").Sub(ready("thin")); gain < 5*time.Minute {
		t.Errorf("set to touch only %s after the one as warm as the air", gain)
	}
	if left := board.Lag(110 * time.Minute); left < 0.098 || left > 0.102 {
		t.Errorf("%.3f of the difference is left after 110 minutes", left)
	}
}

// The probe on a thick part falls silent, an hour before a coat goes on and the
// heating with it. The part goes on as the probe taught: it dries when one does
// whose probe still speaks, where the board as written down would say a quarter
// of an hour too early. Waterborne paint on the cold face of 45 mm.
func TestAPartWhoseProbeFellSilentGoesOnAsItTaught(t *testing.T) {
	const began = 73 * time.Hour
	real := wood.Typical(0.045)
	truth, err := surface.New(real, 12, evening)
	if err != nil {
		t.Fatal(err)
	}
	heated := func(d time.Duration) float64 {
		if h := d % (24 * time.Hour); h >= time.Hour && h < 9*time.Hour {
			return 22
		}
		return 12
	}
	w := recorded()
	silent, speaks, untaught := job(t, "silent", began, "p1"), job(t, "speaks", began, "p2"), job(t, "untaught", began, "")
	silent.ThicknessMM, speaks.ThicknessMM, untaught.ThicknessMM = 18, 45, 18 // 18: as written down
	for d := time.Duration(0); d < began+3*time.Hour; d += time.Minute {
		if d == began {
			w.follow(silent, speaks, untaught)
		}
		truth.Advance(evening.Add(d), sensors.Celsius(heated(d)))
		at, _ := truth.Surface()
		round := ours("bench", d, warm(heated(d)), damp(50), surfaceAt("p2", float64(at)))
		if d < began-time.Hour {
			round.Readings = append(round.Readings, surfaceAt("p1", float64(at)))
		}
		w.hear(d, round)
	}
	ready := func(coat string) time.Time { return w.estimate(t, coat, drying.SetToTouch).Likely }
	if off := ready("silent").Sub(ready("speaks")); off.Abs() > 3*time.Minute {
		t.Errorf("set to touch %s after the one whose probe speaks", off)
	}
	if off := ready("speaks").Sub(ready("untaught")); off < 6*time.Minute {
		t.Errorf("the board as written down is only %s early", off)
	}
}

// The forecast of a thick part without a probe lags each course of the air by
// the published series: air at 12 °C that is 22 °C from now on.
func TestTheForecastOfAThickPartLagsTheAir(t *testing.T) {
	f := &followed{Job: job(t, "thick", 0, "")}
	f.ThicknessMM = 45
	var h history
	for d := -7 * time.Hour; d < 0; d += time.Minute {
		h.add(ours("bench", d, warm(12), damp(50)))
	}
	air := [][]drying.Conditions{make([]drying.Conditions, 12)}
	for i := range air[0] {
		air[0][i] = drying.Conditions{Air: 22, Humidity: 40, Surface: 22}
	}
	courses, err := drying.NewEnsemble(evening, forecast.Step, air)
	if err != nil {
		t.Fatal(err)
	}
	lagged := f.newBoard(&h, evening).under(evening, courses)
	board := wood.Typical(0.045)
	for i, c := range lagged[0] {
		want := 22 - 10*board.Lag(time.Duration(i)*forecast.Step+forecast.Step/2)
		if math.Abs(float64(c.Surface)-want) > 0.1 || c.SurfaceMeasured || c.Air != 22 {
			t.Errorf("in half hour %d: %+v, want a surface of %.2f °C", i, c, want)
		}
	}
}
