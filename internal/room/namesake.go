package room

import (
	"time"

	"recoat/internal/alert"
)

// When two boots of one node are two machines, as of a copied card. A machine
// that starts anew measures nothing in its old boot afterwards. Common practice,
// no source.
const (
	besideFor  = 3 * time.Minute  // they have measured beside each other for longer
	besideLate = 5 * time.Minute  // rounds that were longer on their way are not looked at
	bootOver   = 15 * time.Minute // a boot that is not heard for longer is over
	mostBoots  = 8                // are looked at
)

// boots are the boots in which a node spoke lately.
type boots map[string]spoken

// spoken is when a boot measured first and last, by its own clock, and was heard
// first and last.
type spoken struct {
	first, last  time.Time
	began, heard alert.Instant
}

// hear takes a round. Only a clock that is set tells boots apart in time.
func (b boots) hear(e Arrived) {
	r := e.Round
	if r.Boot == "" || !r.ClockSet || e.At.Wall.Sub(r.Time).Abs() > besideLate {
		return
	}
	for boot, x := range b {
		if e.At.Mono-x.heard.Mono > bootOver {
			delete(b, boot)
		}
	}
	x, known := b[r.Boot]
	if !known {
		if len(b) == mostBoots {
			return
		}
		x = spoken{first: r.Time, last: r.Time, began: e.At}
	}
	if r.Time.Before(x.first) {
		x.first = r.Time
	}
	if r.Time.After(x.last) {
		x.last = r.Time
	}
	x.heard = e.At
	b[r.Boot] = x
}

// two says whether the boots are of two machines. It is known that they are not
// once one boot has been alone for long enough.
func (b boots) two(now alert.Instant) alert.Tri {
	var live []spoken
	for _, x := range b {
		if now.Mono-x.heard.Mono <= bootOver {
			live = append(live, x)
		}
	}
	for i, x := range live {
		for _, y := range live[:i] {
			if x.beside(y) > besideFor {
				return alert.True
			}
		}
	}
	if len(live) == 1 && now.Mono-live[0].began.Mono > bootOver {
		return alert.False
	}
	return alert.Unknown
}

// beside is for how long both measured.
func (x spoken) beside(y spoken) time.Duration {
	from, to := x.first, x.last
	if y.first.After(from) {
		from = y.first
	}
	if y.last.Before(to) {
		to = y.last
	}
	return to.Sub(from)
}

// namesake asks whether two machines speak under a node's name.
func (r *Room) namesake(n *node) alert.Finding {
	return alert.Namesake(alert.NamesakeFacts{OfNode: r.ofNode(n), Two: n.boots.two(r.now)})
}
