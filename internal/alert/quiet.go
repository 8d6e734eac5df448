package alert

import (
	"fmt"
	"time"
)

const day = 24 * time.Hour

// QuietHours is a span of every day, by the clock on the shop's wall, in which
// only what is critical is told. It may pass midnight. From and To are counted
// from midnight and are below 24 h; where they are equal there is no such span.
type QuietHours struct{ From, To time.Duration }

func (q QuietHours) check() error {
	for _, t := range []time.Duration{q.From, q.To} {
		if t < 0 || t >= day {
			return fmt.Errorf("quiet hours: %v is no time of day: want at least 0 and less than 24 h", t)
		}
	}
	return nil
}

// Until returns the end of the quiet hours that t falls in; it is false where t
// falls in none. A time that the clocks skip counts as the moment they do; of a
// time they show twice the first counts, so that every span ends once.
func (q QuietHours) Until(t time.Time, zone *time.Location) (time.Time, bool) {
	if q.From == q.To {
		return time.Time{}, false
	}
	y, m, d := t.In(zone).Date()
	for _, back := range []int{1, 0} {
		from := time.Date(y, m, d-back, 0, 0, 0, 0, time.UTC)
		to := from
		if q.To < q.From {
			to = from.AddDate(0, 0, 1)
		}
		end := showing(to.Add(q.To), zone)
		if !t.Before(showing(from.Add(q.From), zone)) && t.Before(end) {
			return end, true
		}
	}
	return time.Time{}, false
}

// showing returns when the clocks of a zone first show what wall reads, or are
// first past it.
func showing(wall time.Time, zone *time.Location) time.Time {
	under := func(near time.Time) time.Time { // the zone's rule of that time
		_, offset := near.In(zone).Zone()
		return wall.Add(-time.Duration(offset) * time.Second).In(zone)
	}
	before := under(wall.Add(-day))
	for _, t := range []time.Time{before, under(wall.Add(day))} {
		_, offset := t.Zone()
		if t.UTC().Add(time.Duration(offset) * time.Second).Equal(wall) {
			return t
		}
	}
	changed, _ := before.ZoneBounds()
	return changed
}
