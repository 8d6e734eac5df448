package room

import (
	"time"

	"recoat/internal/alert"
	"recoat/sensors"
)

// clockAgrees is how far a clock that nobody set may be from the hub's and
// still date a round.
const clockAgrees = 10 * time.Minute

// correctionsPause is how long no corrected round has to come before the
// history is read anew: they come one after the other.
const correctionsPause = 10 * time.Second

// dating is how far one node's clock is believed while nothing has set it.
type dating struct {
	boot    string        // the one whose clock agreed with the hub's
	origin  time.Time     // when that boot began, by its own clock
	lag     time.Duration // how far that clock is behind the hub's at most
	highest uint64        // the last round that counted by that clock

	toldBoot string // the boot in which the node last said what its clock shows
	clock    time.Time
	toldAt   alert.Instant // when that reached the hub

	set    string // the last boot whose clock was set
	setSeq uint64 // the highest round since then

	corrected bool // rounds that counted came again with another time
	at        alert.Instant
}

// dates reports whether a round's time can be believed. One whose clock was
// not set is, if that clock agrees with the hub's, or did earlier in that boot
// and has not been moved since: then the round was merely long on its way.
func (d *dating) dates(e Arrived) bool {
	r := e.Round
	switch off := e.At.Wall.Sub(r.Time); {
	case r.Boot == "":
		return true
	case r.ClockSet:
		if d.set != r.Boot {
			d.set, d.setSeq = r.Boot, 0
		}
		d.setSeq = max(d.setSeq, r.Seq)
		return true
	case d.set == r.Boot && r.Seq < d.setSeq:
		return false // an old copy: it comes with its right time as well
	case off.Abs() <= clockAgrees:
		d.agree(r, off)
	case d.boot != r.Boot || r.Time.Add(-r.Uptime).Sub(d.origin).Abs() > clockAgrees:
		return false
	}
	d.highest = max(d.highest, r.Seq)
	return true
}

func (d *dating) agree(r sensors.Round, off time.Duration) {
	if d.boot != r.Boot {
		d.boot, d.highest, d.lag = r.Boot, 0, off
	}
	d.origin, d.lag = r.Time.Add(-r.Uptime), min(d.lag, off)
}

// late reports whether a round that is dated was too long on its way to speak
// for the present.
func (d *dating) late(e Arrived) bool {
	lag := time.Duration(0)
	if !e.Round.ClockSet && e.Round.Boot != "" {
		lag = d.lag
	}
	return e.At.Wall.Sub(e.Round.Time)-lag > readingLife
}

// told takes what a node's clock shows, whatever it was set to.
func (d *dating) told(e Reported) {
	if e.Boot != "" {
		d.toldBoot, d.clock, d.toldAt = e.Boot, e.Clock, e.At
	}
}

// old reports whether a round whose clock was never set was too long on its way
// to speak for the present: by what that very clock showed since, and by the
// hub's own monotonic time.
func (d *dating) old(e Arrived) bool {
	if d.toldBoot == "" || d.toldBoot != e.Round.Boot {
		return false
	}
	return d.clock.Sub(e.Round.Time)+e.At.Mono-d.toldAt.Mono > readingLife
}

// correct notes a round that counted already and comes again with a time that
// can be trusted.
func (d *dating) correct(e Arrived) {
	r := e.Round
	if r.ClockSet && r.Boot != "" && r.Boot == d.boot && r.Seq <= d.highest {
		d.corrected, d.at = true, e.At
	}
}

// settled reports, once, that corrections came and none followed for a while.
func (d *dating) settled(now alert.Instant) bool {
	if !d.corrected || now.Mono-d.at.Mono < correctionsPause {
		return false
	}
	d.corrected = false
	return true
}

// Kept returns a round as it is to be stored: where the hub's clock bears out
// one that its node could not trust, the round counts as dated from then on.
func (r *Room) Kept(e Arrived) sensors.Round {
	kept := e.Round
	kept.ClockSet = r.node(e.Round.Node).dating.dates(e)
	return kept
}
