package simroom

import (
	"testing"

	"recoat/drying/air"
	"recoat/sensors"
)

// Air and water at 25 °C, 50 %, 0.1 m/s. 0.227 kg/(m²·h) was computed from the
// SI form apart from this project. The second value is the same law in the
// units it was published in, W = (95 + 37.4·V)·Δp/H in lb/(h·ft²), with V in
// mph, Δp in inHg and H in Btu/lb (ASHRAE Handbook, HVAC Applications): 0.2237
// mph, 0.4680 inHg (from 3.1697 kPa, ASHRAE Fundamentals 2017, ch. 1, table 3)
// and 1050.2 Btu/lb give 0.0461, times 4.882.
func TestEvaporationLaw(t *testing.T) {
	flux := func(rh sensors.RelativeHumidity) float64 {
		wet := film{water: 1}
		return 3600 * wet.dry(subStep, 25, air.VapourPressure(25, rh), 0.1)
	}
	near(t, "SI form", flux(50), 0.227, 0.005*0.227)
	near(t, "inch-pound form", flux(50), 0.0461*4.882, 0.01*0.225)
	near(t, "in saturated air", flux(100), 0, 1e-12)
}

func still(t sensors.Celsius, rh sensors.RelativeHumidity) ambient {
	return ambient{temperature: t, vapour: air.VapourPressure(t, rh), speed: 0.1}
}

// heldAt is how long a coat of 60 g/m² of water takes to lose it all while the
// surface is held at one temperature, in minutes.
func heldAt(t *testing.T, surface sensors.Celsius, a ambient) float64 {
	t.Helper()
	var f film
	f.coat(0.06)
	for n := 1; n < 6*24*60; n++ {
		f.dry(subStep, surface, a.vapour, a.speed)
		if f.water == 0 {
			return float64(n) * subStep.Minutes()
		}
	}
	t.Fatalf("still wet after a day at %v", a)
	return 0
}

// onBoard is the same on an 18 mm board that starts at the air's temperature
// and cools as it will, and how cold its surface becomes.
func onBoard(t *testing.T, a ambient) (minutes float64, coldest sensors.Celsius) {
	t.Helper()
	b := newTestBoard(0.018, a.temperature)
	b.films[0].coat(0.06)
	coldest = a.temperature
	for n := 1; n < 6*24*60; n++ {
		b.step(subStep, a)
		coldest = min(coldest, b.surfaces[0])
		if b.films[0].water == 0 {
			return float64(n) * subStep.Minutes(), coldest
		}
	}
	t.Fatalf("still wet after a day at %v", a)
	return 0, 0
}

// 60 g/m² at the 0.227 kg/(m²·h) of a film at the air's 25 °C are 15.9 min;
// the skin makes it a little more. 30 min is a judgement, no source.
func TestWetCoatLosesItsWater(t *testing.T) {
	if minutes := heldAt(t, 25, still(25, 50)); !(minutes >= 16 && minutes <= 30) {
		t.Errorf("60 g/m² are gone after %.1f min, want 16 to 30", minutes)
	}
}

// A board feeds its film heat: the coat dries slower than at the air's
// temperature, faster than an isolated film at the wet bulb, and the surface
// cools, but not below the wet bulb.
func TestWetCoatCoolsItsBoard(t *testing.T) {
	a := still(25, 50)
	wetBulb := air.WetBulb(25, 50, sensors.StandardPressure)
	minutes, coldest := onBoard(t, a)
	if fast, slow := heldAt(t, 25, a), heldAt(t, wetBulb, a); !(fast < minutes && minutes < slow) {
		t.Errorf("60 g/m² are gone after %.1f min, want between %.1f and %.1f", minutes, fast, slow)
	}
	if coldest < wetBulb || coldest > 23 {
		t.Errorf("the coldest surface is %.2f °C: it should cool by kelvins, not below the wet bulb at %.2f °C", coldest, wetBulb)
	}
}

func TestWetCoatDriesSlowerWhenColdOrDamp(t *testing.T) {
	last := 0.0
	for _, a := range []ambient{still(30, 40), still(25, 50), still(20, 50), still(20, 70), still(10, 80)} {
		minutes, _ := onBoard(t, a)
		if minutes <= last {
			t.Errorf("%.1f min at %v, not longer than %.1f before it", minutes, a, last)
		}
		last = minutes
	}
}

// Kiil, Prog. Org. Coat. 57:236 (2006): vapour diffuses through the dry layer
// of a coating at 7e-7 m²/s, so 50 µm of it resist with 71.4 s/m; beside still
// air's 250 s/m that leaves 250/321.4 of the rate. A coat of 40 per cent solids
// has 75 g/m² of water to 50 µm.
func TestSkinSlowsTheLastWater(t *testing.T) {
	f := film{water: 1e-9, applied: 0.075}
	near(t, "rate at the end", f.exposed(1./250), 250./321.4, 0.0005)
	f.water = 0.23 * 0.075
	near(t, "rate as the skin begins", f.exposed(1./250), 1, 1e-9)
}

func TestThinDewIsDrops(t *testing.T) {
	full, thin := film{water: 0.004}, film{water: 0.001}
	a := still(25, 50)
	near(t, "half the cover", thin.dry(1, 25, a.vapour, a.speed), full.dry(1, 25, a.vapour, a.speed)/2, 1e-12)
}
