package simroom

import (
	"fmt"
	"math"
	"testing"
	"time"

	"recoat/drying/air"
	"recoat/drying/wood"
	"recoat/sensors"
)

// dryAir has no vapour to condense, so that only heat moves.
func dryAir(t sensors.Celsius) ambient { return ambient{temperature: t} }

func newTestBoard(thickness float64, start sensors.Celsius) *board {
	return newBoard(Piece{Name: "board", Area: 1, Board: wood.Typical(thickness), Start: start})
}

// The share of the first difference that is left at the surface of a board of
// specific gravity 0.5 at 8 % moisture, 7.7 W/(m²·K) on both faces: exact
// series of Carslaw and Jaeger, Conduction of Heat in Solids (1959), section
// 3.11, evaluated apart from this project; properties from the Wood Handbook
// (FPL-GTR-282), surface resistance from ISO 6946.
func TestSurfaceLag(t *testing.T) {
	for _, row := range []struct {
		thickness float64
		minutes   map[float64]float64
	}{
		{0.018, map[float64]float64{0.5: 9.8, 0.2: 26.9, 0.1: 39.8, 0.05: 52.8}},
		{0.025, map[float64]float64{0.5: 12.6, 0.2: 37.9, 0.1: 57.0, 0.05: 76.1}},
		{0.045, map[float64]float64{0.5: 17.1, 0.1: 110, 0.05: 150}},
		{0.070, map[float64]float64{0.5: 17.8, 0.2: 109, 0.1: 183, 0.05: 258}},
	} {
		for share, want := range row.minutes {
			name := fmt.Sprintf("%g mm, %g left", 1000*row.thickness, share)
			near(t, name, minutesTo(newTestBoard(row.thickness, 0), share), want, 0.03*want)
		}
	}
}

// minutesTo warms a board at 0 °C in air at 20 °C and interpolates the instant
// at which so large a share of the difference is left.
func minutesTo(b *board, share float64) float64 {
	before := 1.0
	for n := 1; n < 10000; n++ {
		b.step(subStep, dryAir(20))
		left := 1 - float64(b.surfaces[0])/20
		if left <= share {
			return (float64(n) - (share-left)/(before-left)) * subStep.Minutes()
		}
		before = left
	}
	return math.NaN()
}

// After the first minutes the cells follow the exact series within 1 % of the
// whole difference.
func TestSurfaceFollowsExactSeries(t *testing.T) {
	for _, thickness := range []float64{0.004, 0.018, 0.045, 0.1} {
		b := newTestBoard(thickness, 0)
		for n := 1; n <= 6*300; n++ {
			b.step(subStep, dryAir(20))
			if after := time.Duration(n) * subStep; after >= 2*time.Minute && n%12 == 0 {
				near(t, fmt.Sprintf("%g mm after %v", 1000*thickness, after),
					1-float64(b.surfaces[0])/20, wood.Typical(thickness).Lag(after), 0.01)
			}
		}
	}
}

func TestBoardKeepsItsHeat(t *testing.T) {
	b := newTestBoard(0.03, 5)
	before, given := b.energy(), 0.0
	for range 500 {
		heat, vapour := b.step(subStep, ambient{temperature: 22, vapour: 1300, speed: 0.1})
		given += heat + latentHeat*vapour
	}
	near(t, "heat of the board", b.energy()-before, -given, 1e-9*b.energy())
	if b.energy() <= before {
		t.Error("a cold board in warm air took up no heat")
	}
}

// A 25 mm top brought from 5 °C into 20 °C and 50 % stands below the dew point
// (9.27 °C): it wets at once. Its surface would pass dew point + 3 K after 12
// min if dry (the series above); the condensed water costs it no less.
func TestColdPieceWets(t *testing.T) {
	vapour := air.VapourPressure(20, 50)
	b := newTestBoard(0.025, 5)
	clear, wettest := 0.0, 0.0
	for n := 1; n <= 6*240; n++ {
		b.step(subStep, ambient{temperature: 20, vapour: vapour, speed: 0.1})
		wettest = max(wettest, b.films[0].water)
		if clear == 0 && b.surfaces[0] >= air.DewPointOf(vapour)+3 {
			clear = float64(n) * subStep.Minutes()
		}
	}
	if !(clear >= 9 && clear <= 16) {
		t.Errorf("dew point + 3 K is passed after %.1f min, want about 12", clear)
	}
	if !(wettest > 0.0001) || b.films[0].water > 1e-6 {
		t.Errorf("%.2g kg/m² of dew at most and %.2g after 4 h: it should wet, then dry", wettest, b.films[0].water)
	}
}
