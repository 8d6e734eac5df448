package room

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"recoat/drying/odour"
	"recoat/sensors"
)

// smelly feeds an index that stands at 100, jumps by 300 when a coat goes on
// after a day, and halves every ten hours.
func smelly(w *workshop, coat, until time.Duration) {
	for d := time.Duration(0); d < until; d += 10 * time.Minute {
		v := 100.0
		if d >= coat {
			v += 300 * math.Exp2(-(d-coat).Hours()/10)
		}
		w.hear(d, ours("bench", d, warm(20), damp(50), reading(sensors.VOCIndex, "", v)))
	}
}

// Down to a tenth takes log₂10 = 3.32 halves of ten hours: 33 h after the coat.
func TestAVOCIndexTakesThePlaceOfTheKindsSmell(t *testing.T) {
	const on = 24 * time.Hour
	w := recorded()
	w.follow(job(t, "c-0001", on, ""))
	smelly(w, on, on+20*time.Hour)
	ready := w.Snapshot().Coats[0].Odour
	if ready == nil || !strings.Contains(ready.Basis, "VOC index") {
		t.Fatalf("the smell is estimated as %+v", ready)
	}
	want := evening.Add(on + time.Duration(math.Log2(10)*10*float64(time.Hour)))
	if off := ready.Likely.Sub(want); off.Abs() > 4*time.Hour || want.Before(ready.Low) || want.After(ready.High) {
		t.Errorf("gone at %s (%s to %s), the index says %s", ready.Likely, ready.Low, ready.High, want)
	}
}

// Rounds in any order, doubled, or no good leave the same values; what is older
// than asked for goes.
func TestVapoursInAnyOrder(t *testing.T) {
	rounds := []sensors.Round{
		ours("bench", 0, reading(sensors.VOCIndex, "", 90)),
		ours("bench", 4*time.Minute, reading(sensors.VOCIndex, "", 95)),
		ours("bench", 12*time.Minute, as(sensors.Suspect, reading(sensors.VOCIndex, "", 480))),
		ours("bench", 25*time.Minute, reading(sensors.VOCIndex, "", 120)),
	}
	var forth, back vapours
	for i := range rounds {
		forth.add(rounds[i])
		back.add(rounds[len(rounds)-1-i])
		back.add(rounds[len(rounds)-1-i])
	}
	want := []odour.Index{{At: evening.Add(5 * time.Minute), Value: 95}, {At: evening.Add(25 * time.Minute), Value: 120}}
	for name, v := range map[string]vapours{"in order": forth, "backwards and doubled": back} {
		if got := v.indices(evening.Add(time.Hour)); !slices.Equal(got, want) {
			t.Errorf("%s: %v, want %v", name, got, want)
		}
	}
	if got := forth.indices(evening.Add(15 * time.Minute)); !slices.Equal(got, want[:1]) {
		t.Errorf("up to a quarter past: %v", got)
	}
	forth.forget(evening.Add(15 * time.Minute))
	if got := forth.indices(evening.Add(time.Hour)); !slices.Equal(got, want[1:]) {
		t.Errorf("once the older is forgotten: %v", got)
	}
}
