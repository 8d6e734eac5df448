package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"strings"
	"testing"
)

// call runs recoat with args in this process.
func call(t *testing.T, args ...string) (stdout, stderr string, code int) {
	t.Helper()
	var out, errs bytes.Buffer
	code = run(t.Context(), args, &out, &errs)
	return out.String(), errs.String(), code
}

// airJSON is what recoat air says of a pair, by key.
func airJSON(t *testing.T, celsius, percent float64) map[string]float64 {
	t.Helper()
	out, errs, code := call(t, "air", "--air", fmt.Sprintf("%gC", celsius), "--rh", fmt.Sprint(percent), "--json")
	var state map[string]float64
	if err := json.Unmarshal([]byte(out), &state); code != 0 || err != nil {
		t.Fatalf("air at %g °C, %g %%: exit %d, %v, %s", celsius, percent, code, err, errs)
	}
	return state
}

// Psychrolib (from npm) implements the equations of the ASHRAE Handbook,
// Fundamentals, 2017, chapter 1. Below 0 °C it gives the frost point over ice,
// recoat the dew point over water as humidity sensors do, so pairs whose dew
// point is below are not compared.
func TestAirAgreesWithPsychrolib(t *testing.T) {
	const oracle = "../../testdata/oracle"
	if _, err := os.Stat(oracle + "/node_modules/psychrolib"); err != nil {
		t.Skip("psychrolib is not installed: make test installs it from npm")
	}
	pairs := [][2]float64{{20, 60}}
	for _, celsius := range []float64{0, 3, 7, 12, 16, 18, 20, 23, 25, 28, 32, 38, 45} {
		for _, percent := range []float64{5, 15, 30, 45, 50, 60, 70, 80, 90, 97, 100} {
			pairs = append(pairs, [2]float64{celsius, percent})
		}
	}
	asked, err := json.Marshal(pairs)
	if err != nil {
		t.Fatal(err)
	}
	node := exec.CommandContext(t.Context(), "node", "air.mjs")
	node.Dir, node.Stdin, node.Stderr = oracle, bytes.NewReader(asked), os.Stderr
	answered, err := node.Output()
	if err != nil {
		t.Fatal(err)
	}
	var want []map[string]float64
	if err := json.Unmarshal(answered, &want); err != nil || len(want) != len(pairs) {
		t.Fatalf("%d answers to %d questions, %v", len(want), len(pairs), err)
	}
	compared, worst := 0, 0.0
	for i, pair := range pairs {
		got := airJSON(t, pair[0], pair[1])
		within(t, pair, "humidity_ratio_g_kg", got, want[i], 0.001*want[i]["humidity_ratio_g_kg"]+1e-4)
		within(t, pair, "vapour_pressure_hpa", got, want[i], 0.001*want[i]["vapour_pressure_hpa"])
		if want[i]["dew_point_c"] < 0 {
			continue
		}
		compared++
		within(t, pair, "dew_point_c", got, want[i], 0.05)
		within(t, pair, "wet_bulb_c", got, want[i], 0.15) // a psychrometer's, against the thermodynamic one
		worst = max(worst, math.Abs(got["dew_point_c"]-want[i]["dew_point_c"]))
	}
	if compared < 41 {
		t.Errorf("only %d pairs with a dew point at or above 0 °C", compared)
	}
	t.Logf("%d dew points compared, worst difference %.4f °C", compared, worst)
}

func within(t *testing.T, pair [2]float64, key string, got, want map[string]float64, tolerance float64) {
	t.Helper()
	if d := math.Abs(got[key] - want[key]); !(d <= tolerance) {
		t.Errorf("%g °C, %g %%: %s %.4f, psychrolib says %.4f", pair[0], pair[1], key, got[key], want[key])
	}
}

// Two published tables. Dew points to a tenth: halesowenweather.co.uk,
// dew_point1.htm (formula not stated, some entries cut off instead of rounded,
// hence ± 0.1). Saturation pressures: Handbook of Chemistry and Physics
// 1992-93, vapour pressure of water, kPa, within 0.1 %.
func TestAirAgreesWithPublishedTables(t *testing.T) {
	for _, row := range [][3]float64{
		{25, 30, 6.2}, {25, 50, 13.8}, {25, 70, 19.1}, {25, 90, 23.2},
		{20, 30, 1.9}, {20, 50, 9.3}, {20, 60, 12.0}, {20, 80, 16.4},
		{10, 50, 0.1}, {10, 70, 4.8}, {10, 90, 8.4}, {5, 50, -4.6}, {5, 80, 1.8},
	} {
		if got := airJSON(t, row[0], row[1])["dew_point_c"]; math.Abs(got-row[2]) > 0.1 {
			t.Errorf("dew point at %g °C, %g %%: %.3f, the table says %.1f", row[0], row[1], got, row[2])
		}
	}
	for _, row := range [][2]float64{{0, 0.61129}, {10, 1.2281}, {15, 1.7056}, {20, 2.3388}, {25, 3.169}, {30, 4.2455}, {40, 7.3814}} {
		if got := airJSON(t, row[0], 100)["vapour_pressure_hpa"] / 10; math.Abs(got-row[1]) > 0.001*row[1] {
			t.Errorf("saturation at %g °C: %.5f kPa, the handbook says %.5f", row[0], got, row[1])
		}
	}
}

func TestAirForPeople(t *testing.T) {
	out, _, code := call(t, "air", "--air", "68F", "--rh", "60%", "--surface", "11C")
	for _, want := range []string{"20.0 °C", "60 %", "Dew point            12.0 °C", "-1.0 K above the dew point", "Water condenses on this surface."} {
		if !strings.Contains(out, want) {
			t.Errorf("exit %d, no %q in:\n%s", code, want, out)
		}
	}
}
