package quantity

import (
	"testing"
	"time"
)

func TestParseDuration(t *testing.T) {
	for text, want := range map[string]time.Duration{
		"30m":       30 * time.Minute,
		"90min":     90 * time.Minute,
		"2h":        2 * time.Hour,
		"1.5h":      90 * time.Minute,
		"1h30m":     90 * time.Minute,
		" 1 h 30 m": 90 * time.Minute,
		"21d":       21 * 24 * time.Hour,
		"0.5D":      12 * time.Hour,
		"1m30s":     90 * time.Second,
		"366d":      LongestDuration,
	} {
		if got, err := ParseDuration(text); err != nil || got != want {
			t.Errorf("%q: %v, %v; want %v", text, got, err, want)
		}
	}
}

func TestParseDurationRefuses(t *testing.T) {
	const right = ": write a duration such as 30m, 2h, 1h30m or 21d"
	for text, says := range map[string]string{
		"":                         `"" is not a duration` + right,
		"2":                        `"2" has no unit` + right,
		"1h30":                     `"1h30" has no unit` + right,
		"-2h":                      `"-2h" is not a duration` + right,
		"2h-1m":                    `"2h-1m" is not a duration` + right,
		"30m1h":                    `"30m1h" has its parts out of order` + right,
		"1h1h":                     `"1h1h" has its parts out of order` + right,
		"1m1min":                   `"1m1min" has its parts out of order` + right,
		"0h":                       `"0h" is no time at all` + right,
		"2 weeks":                  `"2 weeks" has the unit "weeks", which is none for a duration` + right,
		"overnight":                `"overnight" is not a duration` + right,
		"367d":                     `"367d" is too long: a duration is at most 366d`,
		"366d1s":                   `"366d1s" is too long: a duration is at most 366d`,
		"99999999999999999999999d": `"99999999999999999999999d" is too long: a duration is at most 366d`,
	} {
		if _, err := ParseDuration(text); err == nil || err.Error() != says {
			t.Errorf("%q: %v\n want %s", text, err, says)
		}
	}
}

func TestFormatDuration(t *testing.T) {
	for d, want := range map[time.Duration]string{
		0:                                 "0s",
		90 * time.Second:                  "1m30s",
		30*time.Minute - time.Millisecond: "30m",
		90 * time.Minute:                  "1h30m",
		72 * time.Hour:                    "72h",
		21 * 24 * time.Hour:               "21d",
		4*24*time.Hour + 30*time.Minute:   "4d30m",
	} {
		if got := FormatDuration(d); got != want {
			t.Errorf("%v: %q, want %q", d, got, want)
		}
	}
}

func FuzzDuration(f *testing.F) {
	for _, s := range []string{"30m", "1h30m", "21d", "0.3s", "365d23h59m59s", "1h\u00a030m"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		d, err := ParseDuration(s)
		if err != nil {
			return
		}
		if d <= 0 || d > LongestDuration {
			t.Errorf("%q: %v", s, d)
		}
		if again, err := ParseDuration(FormatDuration(d)); err != nil || again != d {
			t.Errorf("%q: %v is read back as %v, %v", s, d, again, err)
		}
	})
}
