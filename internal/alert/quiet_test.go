package alert

import (
	"testing"
	"time"
	_ "time/tzdata" // so that the zones do not depend on the machine
)

func zone(t *testing.T, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	must(t, err)
	return z
}

// The instants follow Directive 2000/84/EC: summer time begins and ends on the
// last Sunday of March and October at 01:00 UTC.
func TestQuietHoursWhereTheClocksChange(t *testing.T) {
	berlin := zone(t, "Europe/Berlin")
	utc := func(month time.Month, d, h, m int) time.Time { return time.Date(2031, month, d, h, m, 0, 0, time.UTC) }
	const h = time.Hour
	night := QuietHours{22 * h, 7 * h}
	half := 2*h + h/2 // skipped in spring, shown twice in autumn
	for name, c := range map[string]struct {
		quiet QuietHours
		at    time.Time
		end   time.Time // zero: not quiet
	}{
		"a plain evening":                  {night, utc(1, 10, 21, 0), utc(1, 11, 6, 0)},
		"a minute before it":               {night, utc(1, 10, 20, 59), time.Time{}},
		"a plain morning":                  {night, utc(1, 11, 5, 59), utc(1, 11, 6, 0)},
		"its end is outside":               {night, utc(1, 11, 6, 0), time.Time{}},
		"the short night":                  {night, utc(3, 29, 21, 0), utc(3, 30, 5, 0)},
		"the long night":                   {night, utc(10, 25, 20, 0), utc(10, 26, 6, 0)},
		"to a time that is skipped":        {QuietHours{22 * h, half}, utc(3, 29, 23, 0), utc(3, 30, 1, 0)},
		"after a time that is skipped":     {QuietHours{22 * h, half}, utc(3, 30, 1, 0), time.Time{}},
		"to a time shown twice":            {QuietHours{22 * h, half}, utc(10, 26, 0, 29), utc(10, 26, 0, 30)},
		"the second showing is not quiet":  {QuietHours{22 * h, half}, utc(10, 26, 1, 10), time.Time{}},
		"from a time that is skipped":      {QuietHours{half, 7 * h}, utc(3, 30, 1, 0), utc(3, 30, 5, 0)},
		"from a time shown twice":          {QuietHours{half, 7 * h}, utc(10, 26, 0, 30), utc(10, 26, 6, 0)},
		"within a day":                     {QuietHours{12 * h, 13 * h}, utc(7, 1, 10, 0), utc(7, 1, 11, 0)},
		"all within what is skipped":       {QuietHours{half, half + h/4}, utc(3, 30, 1, 0), time.Time{}},
		"none where the times are equal":   {QuietHours{7 * h, 7 * h}, utc(7, 1, 5, 0), time.Time{}},
		"from midnight":                    {QuietHours{0, 6 * h}, utc(1, 10, 23, 0), utc(1, 11, 5, 0)},
		"to midnight":                      {QuietHours{20 * h, 0}, utc(1, 10, 22, 59), utc(1, 10, 23, 0)},
		"the year turns":                   {night, utc(12, 31, 23, 30), time.Date(2032, 1, 1, 6, 0, 0, 0, time.UTC)},
		"a whole day but for a minute ago": {QuietHours{h, h - time.Minute}, utc(1, 10, 12, 0), utc(1, 10, 23, 59)},
	} {
		t.Run(name, func(t *testing.T) {
			end, quiet := c.quiet.Until(c.at, berlin)
			if quiet == c.end.IsZero() || !end.Equal(c.end) {
				t.Errorf("got %v %v, want %v", end.UTC(), quiet, c.end)
			}
		})
	}
}

// Walking a year in steps of five minutes, every night has one end and its
// quiet minutes are in one piece.
func TestEveryNightOfAYearEndsOnce(t *testing.T) {
	const h = time.Hour
	for _, name := range []string{"UTC", "Europe/Berlin", "America/St_Johns", "Australia/Lord_Howe", "Asia/Kathmandu"} {
		z := zone(t, name)
		for _, q := range []QuietHours{{22 * h, 7 * h}, {22 * h, 2*h + h/2}, {2 * h, 9 * h}, {0, 3 * h}} {
			ends, last, was := map[int64]bool{}, time.Time{}, false
			for at := time.Date(2031, 1, 1, 12, 0, 0, 0, z); at.Year() == 2031; at = at.Add(5 * time.Minute) {
				end, quiet := q.Until(at, z)
				if quiet && (!end.After(at) || end.Sub(at) > 11*h || was && !end.Equal(last)) {
					t.Fatalf("%s %v at %v: ends %v, before that %v", name, q, at, end, last)
				}
				if quiet && !was {
					if ends[end.Unix()] {
						t.Fatalf("%s %v at %v: quiet again to the same end", name, q, at)
					}
					ends[end.Unix()] = true
				}
				last, was = end, quiet
			}
			if n := len(ends); n < 364 || n > 365 {
				t.Errorf("%s %v: %d nights", name, q, n)
			}
		}
	}
}
