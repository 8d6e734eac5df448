package dashboards

import (
	"net/url"
	"strconv"
	"time"
)

// spans are the lengths of history a room page offers, shortest first.
var spans = []span{
	{"1h", "1 hour", time.Hour},
	{"6h", "6 hours", 6 * time.Hour},
	{"1d", "1 day", 24 * time.Hour},
	{"1w", "1 week", 7 * 24 * time.Hour},
	{"1m", "1 month", 30 * 24 * time.Hour},
	{"1y", "1 year", 365 * 24 * time.Hour},
	{"5y", "5 years", 5 * 365 * 24 * time.Hour},
}

// usualSpan is shown where none is asked for.
const usualSpan = 1

type span struct {
	Key, Title string
	length     time.Duration
}

// spanOf returns the span asked for, the usual one if it is none of ours.
func spanOf(key string) span {
	for _, s := range spans {
		if s.Key == key {
			return s
		}
	}
	return spans[usualSpan]
}

// The shortest and the longest piece of history that can be asked for.
const (
	shortestWindow = 10 * time.Minute
	longestWindow  = 20 * 365 * 24 * time.Hour
)

// window is a piece of history. It ends now, and moves on with the clock, unless
// it was asked for by its ends.
type window struct {
	from, to time.Time
	key      string // of the span it is; empty: none
	live     bool   // it ends now
}

// windowOf reads ?from= and ?to=, in seconds since 1970, or ?span= with or
// without ?to=. What cannot be read, or is longer than is kept sense of, is
// taken as the nearest that can.
func windowOf(query url.Values, now time.Time) window {
	from, to := second(query.Get("from")), second(query.Get("to"))
	sp := spanOf(query.Get("span"))
	live := to.IsZero() || !to.Before(now)
	if live {
		to = now
	}
	if from.IsZero() || !from.Before(to) {
		return window{from: to.Add(-sp.length), to: to, key: sp.Key, live: live}
	}
	length := min(max(to.Sub(from), shortestWindow), longestWindow)
	w := window{from: to.Add(-length), to: to, live: live}
	for _, s := range spans {
		if s.length == length {
			w.key = s.Key
		}
	}
	return w
}

// second reads an instant; zero if there is none, or none that is possible.
func second(text string) time.Time {
	v, err := strconv.ParseInt(text, 10, 64)
	if err != nil || v <= 0 || v > 1<<33 { // the year 2242
		return time.Time{}
	}
	return time.Unix(v, 0)
}

func (w window) length() time.Duration { return w.to.Sub(w.from) }

// query is how the window is asked for again.
func (w window) query() string {
	if w.live && w.key != "" {
		return "span=" + w.key
	}
	return "from=" + unix(w.from) + "&to=" + unix(w.to)
}

// moved is the window by a part of its length later, or earlier. It does not
// move past now.
func (w window) moved(share float64, now time.Time) window {
	by := time.Duration(share * float64(w.length()))
	if w.to.Add(by).After(now) {
		return window{from: now.Add(-w.length()), to: now, key: w.key, live: true}
	}
	return window{from: w.from.Add(by), to: w.to.Add(by), key: w.key}
}

// widened is the window with a part of its length more on either side, not past
// now.
func (w window) widened(share float64, now time.Time) window {
	by := time.Duration(share * float64(w.length()))
	w.from, w.to = w.from.Add(-by), w.to.Add(by)
	if w.to.After(now) {
		w.to = now
	}
	return w
}

func unix(t time.Time) string { return strconv.FormatInt(t.Unix(), 10) }
