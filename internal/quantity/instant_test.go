package quantity

import (
	"testing"
	"time"
	_ "time/tzdata" // zones, where the machine has none
)

// Rules of the zone: central European clocks go forward at 01:00 UTC on the
// last Sunday of March and back at 01:00 UTC on the last of October
// (Directive 2000/84/EC); in 2026 these are 29 March and 25 October.
func TestParseTime(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Vienna")
	if err != nil {
		t.Fatal(err)
	}
	for text, want := range map[string]string{
		"2026-02-01 21:30":          "2026-02-01T20:30:00Z",
		"2026-07-01 21:30":          "2026-07-01T19:30:00Z",
		"2026-07-01 9:30":           "2026-07-01T07:30:00Z",
		"2026-03-29 01:59":          "2026-03-29T00:59:00Z",
		"2026-03-29 03:00":          "2026-03-29T01:00:00Z",
		"2026-10-25 03:00":          "2026-10-25T02:00:00Z",
		"2026-02-01T21:30:00+05:30": "2026-02-01T16:00:00Z",
		"2026-02-01T21:30:00.25Z":   "2026-02-01T21:30:00.25Z",
	} {
		got, err := ParseTime(text, zone)
		if err != nil || got.UTC().Format(time.RFC3339Nano) != want {
			t.Errorf("%q: %v, %v; want %s", text, got, err, want)
		}
	}
	for text, says := range map[string]string{
		"2026-03-29 02:30": `"2026-03-29 02:30" was skipped: the clocks of Europe/Vienna went forward over it`,
		"2026-10-25 02:30": `"2026-10-25 02:30" came twice, as the clocks of Europe/Vienna went back: write 2026-10-25T02:30:00+02:00 or 2026-10-25T02:30:00+01:00`,
		"tonight":          `"tonight" is not a time: write 2026-03-01 21:30, or 2026-03-01T21:30:00+01:00`,
		"2026-02-30 12:00": `"2026-02-30 12:00" is not a time: write 2026-03-01 21:30, or 2026-03-01T21:30:00+01:00`,
		"1770000000":       `"1770000000" is not a time: write 2026-03-01 21:30, or 2026-03-01T21:30:00+01:00`,
	} {
		if _, err := ParseTime(text, zone); err == nil || err.Error() != says {
			t.Errorf("%q: %v\n want %s", text, err, says)
		}
	}
}
