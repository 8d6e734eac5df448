package peers

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
)

// peersVariable asks for the measurements, which take minutes.
const peersVariable = "RECOAT_PEERS"

// TestYear appends a year to each store and asks it for three days raw and for
// the hourly means of the year, each time from cold. It prints the table; how it
// came out is for people to judge.
func TestYear(t *testing.T) {
	if os.Getenv(peersVariable) == "" {
		t.Skip("measuring takes minutes: make peers asks for it")
	}
	o := &own{ctx: t.Context(), path: filepath.Join(t.TempDir(), "readings.db")}
	if err := o.cold(); err != nil {
		t.Fatal(err)
	}
	all := []*kept{
		{name: "recoat (SQLite)", keeper: o},
		{name: influxName, keeper: influx{influxServer(t)}},
		{name: victoriaName, keeper: victoria{victoriaServer(t)}},
	}
	measure(t, all)
	if err := o.s.Close(); err != nil {
		t.Fatal(err)
	}
	fmt.Printf("\nA year of 10-second rounds of three channels, %d rounds; medians of %d, lowest and highest in brackets.\n", yearRounds, parts)
	fmt.Println("| store | append, rounds/s | 3 days raw, ms, cold | hourly means of the year, ms, cold | bytes a round | memory after it, MiB |")
	fmt.Println("|---|---|---|---|---|---|")
	for _, k := range all {
		fmt.Printf("| %s | %s | %s | %s | %.1f | %.0f |\n", k.name, shown(k.append, 0), shown(k.days, 1), shown(k.means, 1), k.bytes, k.memory)
	}
	for _, k := range all {
		fmt.Printf("%s answered with %d raw, %d hours\n", k.name, k.rawAnswer, k.hoursAnswer)
	}
	for _, k := range all[1:] {
		ratio := func(of func(*kept) []float64) float64 {
			ours, _ := median(of(all[0]))
			theirs, _ := median(of(k))
			return ours / theirs
		}
		require("append, recoat to "+k.name, ratio(func(k *kept) []float64 { return k.append }), atLeast, map[string]float64{influxName: 2, victoriaName: 0.8}[k.name])
		require("time for three days, recoat to "+k.name, ratio(func(k *kept) []float64 { return k.days }), atMost, 1)
		require("time for a year of means, recoat to "+k.name, ratio(func(k *kept) []float64 { return k.means }), atMost, 1)
	}
	require("bytes a round", all[0].bytes, atMost, 24)
}

// shown is a median with its lowest and highest.
func shown(v []float64, digits int) string {
	m, spread := median(v)
	return fmt.Sprintf("%.*f (%.*f–%.*f)", digits, m, digits, spread[0], digits, spread[1])
}

const (
	influxName   = "InfluxDB 1.8.10"
	victoriaName = "VictoriaMetrics"
)

// bound is which way a requirement goes.
type bound string

const (
	atLeast bound = "≥"
	atMost  bound = "≤"
)

// require prints a ratio beside what is asked of it. This is a measurement, on
// whatever machine, so that nothing fails by it.
func require(what string, ratio float64, b bound, want float64) {
	verdict := "met"
	if b == atLeast && ratio < want || b == atMost && ratio > want {
		verdict = "NOT MET"
	}
	fmt.Printf("  %-68s %6.2f   asked: %s %.2f   %s\n", what, ratio, b, want, verdict)
}
