package quantity

import (
	"testing"
	"time"
)

// An instant that is read is written and read as the same; a time of day that a
// clock did not show is refused.
func FuzzParseTime(f *testing.F) {
	local := time.FixedZone("shop", 3600)
	if zone, err := time.LoadLocation("Europe/Berlin"); err == nil {
		local = zone
	}
	for _, s := range []string{"2026-03-01 21:30", "2026-03-29 02:30", "2026-10-25 02:30", "2026-03-01T21:30:00+01:00", "0000-01-01 00:00", "9999-12-31 23:59"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		at, err := ParseTime(s, local)
		if err != nil || at.Year() < 1 || at.Year() > 9998 {
			return // RFC 3339 has four digits for a year, in any zone
		}
		again, err := ParseTime(at.UTC().Format(time.RFC3339Nano), local)
		if err != nil || !again.Equal(at) {
			t.Fatalf("%q is %v, which is read as %v, %v", s, at, again, err)
		}
	})
}
