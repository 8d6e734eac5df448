package alert

import (
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"recoat/drying"
)

// fill puts names into a title and shortens the longest of them until the whole
// is at most maxTitle characters.
func fill(format string, names ...string) string {
	for i, n := range names {
		names[i] = clip(oneLine(n), maxTitle)
	}
	for {
		args := make([]any, len(names))
		longest := 0
		for i, n := range names {
			args[i] = n
			if utf8.RuneCountInString(n) > utf8.RuneCountInString(names[longest]) {
				longest = i
			}
		}
		s := fmt.Sprintf(format, args...)
		room := utf8.RuneCountInString(names[longest])
		if utf8.RuneCountInString(s) <= maxTitle || room <= 1 {
			return clip(s, maxTitle)
		}
		names[longest] = clip(names[longest], room-1)
	}
}

// filmTitle puts the first film into a title and counts the others; of piece
// and part the longer is shortened first.
func filmTitle(format string, all []Film) string {
	names, slot := []string{all[0].Piece}, "%s"
	if all[0].Part != "" {
		names, slot = append(names, all[0].Part), "%s, %s"
	}
	if n := len(all) - 1; n > 0 {
		slot = fmt.Sprintf(andMore, slot, n)
	}
	return fill(fmt.Sprintf(format, slot), names...)
}

// films names the first film and counts the others.
func films(all []Film) string {
	if len(all) == 1 {
		return all[0].String()
	}
	return fmt.Sprintf(andMore, all[0].String(), len(all)-1)
}

// clock shows a time by its weekday, or with its date where the weekday alone
// could mean another week.
func clock(t, near time.Time) string {
	if d := t.Sub(near); d > -6*24*time.Hour && d < 6*24*time.Hour {
		return t.Format(clockToday)
	}
	return t.Format(clockFar)
}

// span shows a duration in its two largest units.
func span(d time.Duration) string {
	m := int64(d.Round(time.Minute) / time.Minute)
	switch {
	case m < 60:
		return fmt.Sprintf("%d min", m)
	case m < 48*60 && m%60 == 0:
		return fmt.Sprintf("%d h", m/60)
	case m < 48*60:
		return fmt.Sprintf("%d h %d min", m/60, m%60)
	}
	h := (m + 30) / 60
	if h%24 == 0 {
		return fmt.Sprintf("%d d", h/24)
	}
	return fmt.Sprintf("%d d %d h", h/24, h%24)
}

// reasonLines is each reason's sentence, which holds its number and its limit,
// on a line of its own.
func reasonLines(v drying.Verdict) string {
	var l lines
	for _, r := range v.Reasons {
		l.add("%s", sentence(r.Text))
	}
	return l.String()
}

func sentence(s string) string { return strings.TrimSuffix(s, ".") + "." }

// capital begins s with a capital letter, small with a small one.
func capital(s string) string { return mapFirst(s, unicode.ToUpper) }

func small(s string) string { return mapFirst(s, unicode.ToLower) }

func mapFirst(s string, to func(rune) rune) string {
	first, size := utf8.DecodeRuneInString(s)
	if size == 0 {
		return s
	}
	return string(to(first)) + s[size:]
}
