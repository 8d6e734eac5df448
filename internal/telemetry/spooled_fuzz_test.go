package telemetry

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"recoat/sensors"
)

// What a spool holds goes back into it as it was.
func FuzzSpooled(f *testing.F) {
	packed, err := packReadings(roundOf(bootA, 7).Readings)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(packed)
	f.Add([]byte(`[{"c":"relative-humidity","n":5012,"q":"suspect"},{"c":"surface-temperature:28-00000a","n":0,"q":"missing"}]`))
	f.Add([]byte(`[{"c":"co2","n":99999999999999999999,"q":"good"}]`))
	f.Fuzz(func(t *testing.T, text []byte) {
		readings, err := unpackReadings(text)
		if err != nil {
			return
		}
		for i, r := range readings {
			if !sensors.IsFinite(r.Value) {
				t.Fatalf("%q holds %v", text, r)
			}
			readings[i].Value = r.Channel.Quantity.FromSteps(r.Channel.Quantity.Steps(r.Value))
			if r.Quality == sensors.Missing {
				readings[i].Value = 0
			}
		}
		again, err := packReadings(readings)
		if err != nil {
			t.Fatal(err)
		}
		back, err := unpackReadings(again)
		if err != nil || cmp.Diff(readings, back) != "" {
			t.Fatalf("%s came back as %v, %v", again, back, err)
		}
	})
}
