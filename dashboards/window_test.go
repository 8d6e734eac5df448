package dashboards

import (
	"net/url"
	"testing"
	"time"
)

func TestWindowOf(t *testing.T) {
	at := func(d time.Duration) string { return unix(evening.Add(d)) }
	for _, c := range []struct {
		query    string
		from, to time.Duration // from the evening
		key      string
		live     bool
	}{
		{"", -6 * time.Hour, 0, "6h", true},
		{"span=1y", -365 * 24 * time.Hour, 0, "1y", true},
		{"span=2y", -6 * time.Hour, 0, "6h", true},
		{"span=1d&to=" + at(-time.Hour), -25 * time.Hour, -time.Hour, "1d", false},
		{"from=" + at(-3*time.Hour) + "&to=" + at(-time.Hour), -3 * time.Hour, -time.Hour, "", false},
		{"from=" + at(-2*time.Hour) + "&to=" + at(-time.Hour), -2 * time.Hour, -time.Hour, "1h", false},
		{"from=" + at(-3*time.Hour) + "&to=" + at(time.Hour), -3 * time.Hour, 0, "", true},
		{"from=" + at(-time.Minute) + "&to=" + at(0), -shortestWindow, 0, "", true},
		{"from=1&to=" + at(0), -longestWindow, 0, "", true},
		{"from=" + at(0) + "&to=" + at(-time.Hour), -7 * time.Hour, -time.Hour, "6h", false},
		{"from=x&to=99999999999999999999", -6 * time.Hour, 0, "6h", true},
		{"from=-5&to=-1", -6 * time.Hour, 0, "6h", true},
	} {
		q, err := url.ParseQuery(c.query)
		if err != nil {
			t.Fatal(err)
		}
		w := windowOf(q, evening)
		if !w.from.Equal(evening.Add(c.from)) || !w.to.Equal(evening.Add(c.to)) || w.key != c.key || w.live != c.live {
			t.Errorf("%q: %v to %v, %q, live %v; want %v to %v", c.query, w.from.Sub(evening), w.to.Sub(evening), w.key, w.live, c.from, c.to)
		}
		again, err := url.ParseQuery(w.query())
		if err != nil {
			t.Fatal(err)
		}
		if got := windowOf(again, evening); !got.from.Equal(w.from) || !got.to.Equal(w.to) {
			t.Errorf("%q asks for itself as %q, which is another", c.query, w.query())
		}
	}
}

func TestWindowMovesButNotPastNow(t *testing.T) {
	w := window{from: evening.Add(-6 * time.Hour), to: evening, key: "6h", live: true}
	back := w.moved(-0.5, evening)
	if !back.to.Equal(evening.Add(-3*time.Hour)) || back.length() != w.length() || back.live {
		t.Errorf("half of it back: %+v", back)
	}
	if on := back.moved(2, evening); !on.to.Equal(evening) || !on.live || on.length() != w.length() {
		t.Errorf("on past now: %+v", on)
	}
}

func FuzzWindow(f *testing.F) {
	f.Add("1d", "1773175200", "1773178800")
	f.Fuzz(func(t *testing.T, key, from, to string) {
		w := windowOf(url.Values{"span": {key}, "from": {from}, "to": {to}}, evening)
		if w.to.After(evening) || w.length() < shortestWindow || w.length() > longestWindow {
			t.Errorf("%q %q %q: %v to %v", key, from, to, w.from, w.to)
		}
	})
}
