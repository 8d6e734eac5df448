package room

import (
	"testing"
	"time"

	"recoat/drying"
	"recoat/drying/wood"
)

// A cold room is warmed in the evening, and a coat goes on at once. A thick part
// without a probe is reckoned to dry as one whose probe shows the published lag
// of such a board (45 mm: a tenth of the difference left after 110 minutes,
// computed from the Wood Handbook's figures), and later than if its surface were
// as warm as the air.
func TestAThickPartWithoutAProbeLagsTheAir(t *testing.T) {
	const began = 7 * time.Hour
	board := wood.Typical(0.045)
	w := newRoom()
	thick, probed, thin := job(t, "thick", began, ""), job(t, "probed", began, "p1"), job(t, "thin", began, "")
	thick.ThicknessMM = 45
	w.follow(thick, probed, thin)
	w.minutely(0, began, warm(12), damp(50), surfaceAt("p1", 12))
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
