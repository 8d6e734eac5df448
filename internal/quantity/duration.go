package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

const day = 24 * time.Hour

// LongestDuration is the longest duration that is read.
const LongestDuration = 366 * day

var durationUnits = []struct {
	name string
	size time.Duration
}{{"d", day}, {"h", time.Hour}, {"min", time.Minute}, {"m", time.Minute}, {"s", time.Second}}

// ParseDuration reads "30m", "90min", "2h", "1.5h", "1h30m" or "21d": days,
// hours, minutes and seconds, the larger first, each at most once, longer than
// nothing and no longer than LongestDuration. It keeps whole seconds.
func ParseDuration(s string) (time.Duration, error) {
	rest := strings.TrimSpace(s)
	if rest == "" || len(rest) > 4*longest {
		return 0, refuseDuration(s, "is not a duration")
	}
	var sum time.Duration
	above := LongestDuration
	for rest != "" {
		part, size, after, err := nextPart(s, rest)
		if err != nil {
			return 0, err
		}
		if size >= above {
			return 0, refuseDuration(s, "has its parts out of order")
		}
		if part > LongestDuration-sum {
			return 0, fmt.Errorf("%s is too long: a duration is at most 366d", Quote(s))
		}
		sum, above, rest = sum+part, size, after
	}
	if sum == 0 {
		return 0, refuseDuration(s, "is no time at all")
	}
	return sum, nil
}

// nextPart reads one number and its unit off the front of rest, which is the
// end of s.
func nextPart(s, rest string) (part, size time.Duration, after string, err error) {
	digits, tail := split(rest)
	end := strings.IndexFunc(tail, func(r rune) bool { return r < 'A' })
	if end < 0 {
		end = len(tail)
	}
	x, ok := plain(digits)
	name := strings.TrimSpace(tail[:end])
	switch {
	case !ok || strings.ContainsAny(digits, "+-"):
		return 0, 0, "", refuseDuration(s, "is not a duration")
	case name == "":
		return 0, 0, "", refuseDuration(s, "has no unit")
	}
	for _, u := range durationUnits {
		if !strings.EqualFold(u.name, name) {
			continue
		}
		seconds := math.Min(math.Round(x*u.size.Seconds()), 2*LongestDuration.Seconds())
		return time.Duration(seconds) * time.Second, u.size, strings.TrimSpace(tail[end:]), nil
	}
	return 0, 0, "", refuseDuration(s, fmt.Sprintf("has the unit %s, which is none for a duration", Quote(name)))
}

func refuseDuration(s, why string) error {
	return fmt.Errorf("%s %s: write a duration such as 30m, 2h, 1h30m or 21d", Quote(s), why)
}

// FormatDuration writes d, to the second, as labels do: "90s" never, but
// "1m30s", "2h", "72h", and from four days on "21d" or "4d12h".
func FormatDuration(d time.Duration) string {
	d = d.Round(time.Second)
	if d <= 0 {
		return "0s"
	}
	var b strings.Builder
	for _, u := range durationUnits {
		if u.name == "min" || u.size == day && d < 4*day {
			continue
		}
		if n := int64(d / u.size); n > 0 {
			b.WriteString(strconv.FormatInt(n, 10) + u.name)
			d -= time.Duration(n) * u.size
		}
	}
	return b.String()
}
