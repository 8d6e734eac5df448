package poll

import "time"

const (
	firstPause   = time.Second
	longestPause = time.Minute
)

// backoff is the time to leave a failed source alone. It doubles with each
// failure in a row. The zero backoff is over.
type backoff struct {
	from time.Time
	wait time.Duration
	err  error // what began it
}

// begin starts a pause, longer than the last.
func (b *backoff) begin(now time.Time, err error) {
	*b = backoff{from: now, wait: min(max(2*b.wait, firstPause), longestPause), err: err}
}

// over reports whether the pause has passed. A clock that was set back ends it:
// the alternative is to wait for as long as it was set back.
func (b *backoff) over(now time.Time) bool {
	passed := now.Sub(b.from)
	return passed >= b.wait || passed < 0
}
