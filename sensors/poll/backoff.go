package poll

import "time"

// pauses are how long something is left alone after its first failure, and at
// most.
type pauses struct{ first, longest time.Duration }

var (
	afterFailure = pauses{time.Second, time.Minute}
	betweenLooks = pauses{10 * time.Second, 10 * time.Minute}
)

// backoff is the time to leave something alone. It doubles with each time in a
// row. The zero backoff is over.
type backoff struct {
	from time.Time
	wait time.Duration
	err  error // what began it
}

// begin starts a pause, longer than the last.
func (b *backoff) begin(now time.Time, p pauses, err error) {
	*b = backoff{from: now, wait: min(max(2*b.wait, p.first), p.longest), err: err}
}

// over reports whether the pause has passed. A clock that was set back ends it:
// the alternative is to wait for as long as it was set back.
func (b *backoff) over(now time.Time) bool {
	passed := now.Sub(b.from)
	return passed >= b.wait || passed < 0
}
