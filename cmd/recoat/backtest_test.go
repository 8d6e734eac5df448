package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"recoat/sensors/simroom"
)

// recordRoom writes a record of a simulated room, as a file of readings.
func recordRoom(t *testing.T, length time.Duration) string {
	t.Helper()
	cfg, err := simroom.Preset("stove-shop")
	if err != nil {
		t.Fatal(err)
	}
	cfg.Seed = 4
	var rows strings.Builder
	rows.WriteString("time,air_c,rh_pct,surface_c\n")
	err = simroom.Record(cfg, time.Date(2026, 2, 2, 0, 0, 0, 0, time.UTC), length, 10*time.Minute, func(at time.Time, r simroom.Truth) {
		fmt.Fprintf(&rows, "%s,%.3f,%.3f,%.3f\n", at.Format(time.RFC3339), r.Air, r.Humidity, r.Pieces[0].Surface)
	})
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "room.csv")
	if err := os.WriteFile(path, []byte(rows.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// The scores of the report against those that the file of forecasts gives.
func TestBacktestScoresItsForecasts(t *testing.T) {
	readings, forecasts := recordRoom(t, 12*24*time.Hour), filepath.Join(t.TempDir(), "forecasts.csv")
	var stdout, stderr bytes.Buffer
	args := []string{"backtest", readings, "--json", "--every", "4h", "--forecasts", forecasts, "--ready", "../../testdata/products/tidewrack-enamel.toml"}
	if code := run(t.Context(), args, &stdout, &stderr); code != 0 || stderr.Len() > 0 {
		t.Fatalf("exit %d: %s", code, stderr.String())
	}
	var report backtestReport
	if err := json.Unmarshal(stdout.Bytes(), &report); err != nil {
		t.Fatal(err)
	}
	if len(report.Horizons) != 4 || report.Issues < 10 || report.Ready == nil {
		t.Fatalf("%d horizons, %d issues, ready %v", len(report.Horizons), report.Issues, report.Ready)
	}
	scored := scoreFile(t, forecasts)
	for _, h := range report.Horizons {
		for quantity, said := range map[string]*scoreReport{"air": &h.Air, "dew_point": &h.DewPoint, "surface": h.Surface} {
			scored[fmt.Sprintf("%s %g", quantity, h.Horizon)].check(t, quantity, said)
		}
	}
	scored["ready"].check(t, "ready", report.Ready)
}

type fileScore struct{ n, loss, held float64 }

func (f *fileScore) check(t *testing.T, name string, said *scoreReport) {
	t.Helper()
	if f == nil || said == nil || said.Pinball == nil || float64(said.Count) != f.n {
		t.Errorf("%s: the file gives %+v, the report %+v", name, f, said)
		return
	}
	// The file has four decimals.
	if math.Abs(*said.Pinball-f.loss/f.n) > 2e-4 || math.Abs(*said.Coverage-f.held/f.n) > 0.02 {
		t.Errorf("%s: the file gives a loss of %.4f and a coverage of %.4f, the report %.4f and %.4f", name, f.loss/f.n, f.held/f.n, *said.Pinball, *said.Coverage)
	}
}

func scoreFile(t *testing.T, path string) map[string]*fileScore {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(rows[0], ","); got != "issued_at,target_at,quantity,p10,p50,p90,observed" {
		t.Fatalf("the file begins with %q", got)
	}
	all := map[string]*fileScore{}
	for _, row := range rows[1:] {
		key, _, ready := strings.Cut(row[2], " ")
		if !ready {
			issued, _ := time.Parse(time.RFC3339, row[0])
			target, _ := time.Parse(time.RFC3339, row[1])
			key = fmt.Sprintf("%s %g", key, target.Sub(issued).Hours())
		}
		if all[key] == nil {
			all[key] = &fileScore{}
		}
		all[key].add(t, row[3:])
	}
	return all
}

func (f *fileScore) add(t *testing.T, cells []string) {
	t.Helper()
	var v [4]float64
	for k := range v {
		var err error
		if v[k], err = strconv.ParseFloat(cells[k], 64); err != nil {
			t.Fatal(err)
		}
	}
	truth := v[3]
	for k, p := range []float64{0.1, 0.5, 0.9} {
		f.loss += math.Max(p*(truth-v[k]), (p-1)*(truth-v[k])) / 3
	}
	f.n++
	if v[0] <= truth && truth <= v[2] {
		f.held++
	}
}

func TestBacktestForPeople(t *testing.T) {
	readings := recordRoom(t, 8*24*time.Hour)
	var stdout, stderr bytes.Buffer
	if code := run(t.Context(), []string{"backtest", readings, "--every", "12h"}, &stdout, &stderr); code != 0 {
		t.Fatalf("exit %d: %s", code, stderr.String())
	}
	for _, want := range []string{"dew point", "6h", "12h", "24h", "48h", "80 % interval held"} {
		if !strings.Contains(stdout.String(), want) {
			t.Errorf("%q is missing from\n%s", want, stdout.String())
		}
	}
}

func TestBacktestSaysWhatIsWrong(t *testing.T) {
	short := recordRoom(t, 2*24*time.Hour)
	for says, args := range map[string][]string{
		"more than 96h0m0s would do": {"backtest", short},
		"a multiple of it would do":  {"backtest", short, "--every", "7m"},
		"read the readings":          {"backtest", filepath.Join(t.TempDir(), "none.csv")},
		"write the forecasts":        {"backtest", short, "--forecasts", filepath.Join(t.TempDir(), "none", "f.csv")},
	} {
		var stdout, stderr bytes.Buffer
		if code := run(t.Context(), args, &stdout, &stderr); code == 0 || !strings.Contains(stderr.String(), says) {
			t.Errorf("%v: exit %d, %q, want it to say %q", args, code, stderr.String(), says)
		}
	}
}
