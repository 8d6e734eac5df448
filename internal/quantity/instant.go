package quantity

import (
	"fmt"
	"strings"
	"time"
)

const localLayout = "2006-01-02 15:04"

// ParseTime reads an instant: RFC 3339, or "2006-01-02 15:04" on the clocks of
// local. A local time that the clocks skipped in spring or showed twice in
// autumn is refused.
func ParseTime(s string, local *time.Location) (time.Time, error) {
	s = strings.TrimSpace(s)
	if t, err := time.Parse(time.RFC3339, s); err == nil {
		return t, nil
	}
	wall, err := time.Parse(localLayout, s)
	if err != nil {
		return time.Time{}, fmt.Errorf("%s is not a time: write 2026-03-01 21:30, or 2026-03-01T21:30:00+01:00", Quote(s))
	}
	return onClock(s, wall, local)
}

// onClock finds the one instant at which the clocks of local show wall.
func onClock(s string, wall time.Time, local *time.Location) (time.Time, error) {
	before, after := candidate(wall, local, -day), candidate(wall, local, day)
	shown := func(t time.Time) bool { return t.Format(localLayout) == wall.Format(localLayout) }
	switch {
	case !shown(before) && !shown(after):
		return time.Time{}, fmt.Errorf("%s was skipped: the clocks of %s went forward over it", Quote(s), local)
	case shown(before) && shown(after) && !before.Equal(after):
		return time.Time{}, fmt.Errorf("%s came twice, as the clocks of %s went back: write %s or %s", Quote(s), local,
			before.Format(time.RFC3339), after.Format(time.RFC3339))
	case shown(before):
		return before, nil
	}
	return after, nil
}

// candidate reads wall with the offset from UTC that local has so much later.
func candidate(wall time.Time, local *time.Location, later time.Duration) time.Time {
	_, offset := wall.Add(later).In(local).Zone()
	return wall.Add(-time.Duration(offset) * time.Second).In(local)
}
