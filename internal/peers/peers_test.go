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
	var all []result
	o := &own{ctx: t.Context(), path: filepath.Join(t.TempDir(), "readings.db")}
	if err := o.cold(); err != nil {
		t.Fatal(err)
	}
	all = append(all, measure(t, "recoat (SQLite)", o))
	if err := o.s.Close(); err != nil {
		t.Fatal(err)
	}
	t.Run("InfluxDB", func(t *testing.T) { all = append(all, measure(t, "InfluxDB 1.8.10", influx{influxServer(t)})) })
	t.Run("VictoriaMetrics", func(t *testing.T) { all = append(all, measure(t, "VictoriaMetrics", victoria{victoriaServer(t)})) })
	fmt.Printf("\nA year of 10-second rounds of three channels, %d rounds; medians of %d, lowest and highest in brackets.\n", yearRounds, parts)
	fmt.Println("| store | append, rounds/s | 3 days raw, ms, cold | hourly means of the year, ms, cold | bytes a round | memory after it, MiB |")
	fmt.Println("|---|---|---|---|---|---|")
	for _, r := range all {
		fmt.Printf("| %s | %.0f (%.0f–%.0f) | %.1f (%.1f–%.1f) | %.1f (%.1f–%.1f) | %.1f | %.0f |\n", r.name,
			r.append, r.appendSpread[0], r.appendSpread[1], r.days, r.daysSpread[0], r.daysSpread[1], r.means, r.meansSpread[0], r.meansSpread[1], r.bytes, r.memory)
		fmt.Printf("  (answers: %d raw, %d hours)\n", r.rawAnswer, r.hoursAnswer)
	}
	for _, r := range all[1:] {
		fmt.Printf("recoat to %s: append %.2fx, 3 days %.2fx the time, means %.2fx the time, bytes %.2fx\n",
			r.name, all[0].append/r.append, all[0].days/r.days, all[0].means/r.means, all[0].bytes/r.bytes)
	}
}
