package room

import (
	"math"

	"recoat/internal/alert"
	"recoat/sensors"
)

// nodeFindings asks the rules about one node and its channels.
func (r *Room) nodeFindings(n *node) []alert.Finding {
	all := []alert.Finding{r.silent(n), r.clock(n), r.supply(n), r.namesake(n)}
	for _, c := range n.inOrder() {
		x := n.channels[c]
		all = append(all, r.mute(n, x), r.doubtful(n, x), r.checkDue(n, x))
	}
	return all
}

func (r *Room) ofNode(n *node) alert.OfNode {
	return alert.OfNode{Room: r.cfg.Room, Title: r.cfg.Title, Node: n.name}
}

func (r *Room) ofSensor(n *node, c sensors.Channel) alert.OfSensor {
	return alert.OfSensor{OfNode: r.ofNode(n), Channel: c.String(), Measures: r.measures(c), Open: r.restOn(c)}
}

// restOn lists the open films whose time rests on a channel.
func (r *Room) restOn(c sensors.Channel) []alert.Film {
	var open []alert.Film
	for _, j := range r.jobs {
		own := c.Quantity != sensors.SurfaceTemperature || c.Probe == j.Probe
		if j.open() && own {
			open = append(open, j.film())
		}
	}
	return open
}

// silent asks after a node. Silence is reckoned from when the hub last heard
// it, or began to listen.
func (r *Room) silent(n *node) alert.Finding {
	facts := alert.SilentFacts{
		Room: r.cfg.Room, Title: r.cfg.Title, Node: n.name,
		Silent: n.silent(r.now, r.cfg.SilentAfter),
		Now:    r.now.Wall.In(r.cfg.Location),
	}
	if n.ever {
		facts.Heard = n.heard.Wall.In(r.cfg.Location)
	}
	for _, j := range r.jobs {
		if j.open() {
			facts.Open = append(facts.Open, j.film())
		}
	}
	return alert.SensorSilent(facts)
}

// clock asks whether a node knows the time. A foreign device does not say.
func (r *Room) clock(n *node) alert.Finding {
	facts := alert.ClockFacts{OfNode: r.ofNode(n)}
	if n.recent(r.now) && n.boot != "" {
		facts.Set = alert.Truth(n.clockSet)
	}
	return alert.ClockNotSet(facts)
}

// The least that the two supplies of a small computer may fall to: 4.63 V of
// the 5 V one is where a Raspberry Pi warns of it (its documentation, under
// "Power supply warnings"; from memory), 3.0 V of the 3.3 V one common practice,
// no source.
const (
	leastOfFive  = 4.63
	leastOfThree = 3.0
	isOfFive     = 4.0 // volts ever seen
)

func (r *Room) supply(n *node) alert.Finding {
	facts := alert.SupplyFacts{OfNode: r.ofNode(n), Volts: math.NaN(), Least: leastOfThree}
	if n.recent(r.now) {
		if v := n.first(sensors.SupplyVoltage, r.now); v > 0 {
			facts.Volts, n.supplied = v, max(n.supplied, v)
		}
	}
	if x, ok := n.value(sensors.Channel{Quantity: sensors.Undervoltage}, r.now); ok {
		facts.Alarm = alert.Truth(x.Value > 0)
	}
	if n.supplied > isOfFive {
		facts.Least = leastOfFive
	}
	return alert.SupplyLow(facts)
}

// mute asks after one channel of a node. A node that is not heard says nothing
// of its channels, and one that gives what is not believed is not mute.
func (r *Room) mute(n *node, x said) alert.Finding {
	facts := alert.MuteFacts{
		Room: r.cfg.Room, Title: r.cfg.Title, Node: n.name, Channel: x.Channel.String(),
		Measures: r.measures(x.Channel), Now: r.now.Wall.In(r.cfg.Location), Open: r.restOn(x.Channel),
	}
	gives := x.Quality == sensors.Suspect || x.Quality == sensors.Uncalibrated
	switch {
	case !n.recent(r.now) || gives:
		facts.Mute = alert.Unknown
	case r.now.Mono-x.good.Mono > r.cfg.SilentAfter:
		facts.Mute = alert.True
	case x.Quality == sensors.Good:
		facts.Mute = alert.False
	}
	if x.ever {
		facts.Since = x.good.Wall.In(r.cfg.Location)
	}
	return alert.SensorMute(facts)
}

// doubtful asks whether a channel gives what cannot be right.
func (r *Room) doubtful(n *node, x said) alert.Finding {
	facts := alert.DoubtFacts{OfSensor: r.ofSensor(n, x.Channel), Now: r.now.Wall.In(r.cfg.Location)}
	if n.recent(r.now) {
		facts.Doubtful = isOrGood(x.Quality, sensors.Suspect)
	}
	if x.ever {
		facts.Since = x.good.Wall.In(r.cfg.Location)
	}
	return alert.SensorDoubtful(facts)
}

// checkDue asks whether a channel's check is overdue or failed.
func (r *Room) checkDue(n *node, x said) alert.Finding {
	facts := alert.CheckFacts{OfSensor: r.ofSensor(n, x.Channel)}
	if n.recent(r.now) {
		facts.Due = isOrGood(x.Quality, sensors.Uncalibrated)
	}
	if r.cfg.Book.Overdue(r.cfg.Room, n.name, x.Channel, r.now.Wall) {
		facts.Due = alert.True
	}
	return alert.CheckDue(facts)
}

// isOrGood is known of the quality asked about and of a good one alone.
func isOrGood(q, asked sensors.Quality) alert.Tri {
	switch q {
	case asked:
		return alert.True
	case sensors.Good:
		return alert.False
	}
	return alert.Unknown
}
