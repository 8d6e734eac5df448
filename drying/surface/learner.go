package surface

import (
	"math"
	"time"

	"recoat/drying/wood"
	"recoat/sensors"
)

// Learner follows one board beside a probe on it. Where the probe falls silent
// or is taken off, the surface is reckoned as the probe taught: how fast the
// board follows the room, and how far it stays off the air in the long run.
// Until a probe has spoken it is an Estimator.
type Learner struct {
	boards []candidate // the middle one is the board as described
	at     time.Time   // of the last reading of the air
	taught time.Time   // of the last reading of the probe; zero: none yet
	hours  float64     // for which the probe has spoken
}

// candidate is a board as thick as described, times a factor: thickness stands
// for all that makes a board slow.
type candidate struct {
	board   *Estimator
	factor  float64
	sum, sq float64 // of probe less estimate, K·h and K²·h
}

// What a probe can teach, all judgement: how far the thickness that a person
// wrote and the wood's figures may be off (standard deviation of a factor's
// logarithm), how well an estimate with the right figures meets a probe in an
// hour, and for how long what was taught of the wall's cold is taken to hold.
const (
	factorSpread                 = 0.35
	probeNoise   sensors.Kelvins = 0.4
	taughtHolds                  = 7 * 24 * time.Hour
)

// longest is how long a reading of the probe speaks for: a gap teaches nothing.
const longest = 15 * time.Minute

func factors() []float64 { return []float64{0.4, 0.55, 0.75, 1, 1.35, 1.8, 2.5} }

// NewLearner returns the learner of a board that is as warm as start throughout
// at the instant at. It refuses what New refuses.
func NewLearner(board wood.Board, start sensors.Celsius, at time.Time) (*Learner, error) {
	if err := board.Check(); err != nil {
		return nil, err
	}
	l := &Learner{at: at}
	for _, f := range factors() {
		like := board
		like.Thickness *= f
		if like.Check() != nil {
			continue // thinner or thicker than any board
		}
		e, err := New(like, start, at)
		if err != nil {
			return nil, err
		}
		l.boards = append(l.boards, candidate{board: e, factor: f})
	}
	return l, nil
}

// Advance takes in that the air had a temperature from the instant at on. It
// passes over a reading that is no number and one that is older than the last.
func (l *Learner) Advance(at time.Time, air sensors.Celsius) {
	for i := range l.boards {
		l.boards[i].board.Advance(at, air)
	}
	if at.After(l.at) && sensors.IsFinite(float64(air)) {
		l.at = at
	}
}

// Teach takes in what a probe on the surface shows at the instant of the last
// reading of the air. What is no number, or further off the air than a board in
// a room can be, teaches nothing.
func (l *Learner) Teach(probe sensors.Celsius) {
	const furthest = 40 // K
	passed := l.at.Sub(l.taught)
	if !sensors.IsFinite(float64(probe)) || math.Abs(float64(probe.Sub(l.boards[0].board.air))) > furthest || passed <= 0 {
		return
	}
	if !l.taught.IsZero() && passed <= longest {
		hours := passed.Hours()
		l.hours += hours
		for i := range l.boards {
			b := &l.boards[i]
			now, _ := b.board.Surface()
			off := float64(probe.Sub(now))
			b.sum += off * hours
			b.sq += off * off * hours
		}
	}
	l.taught = l.at
}

// offset returns how far the surface stays off a candidate in the long run:
// what was seen, drawn towards none until some hours have been.
func (l *Learner) offset(c *candidate) float64 {
	prior := float64(probeNoise*probeNoise) / float64(restless*restless) // h that none counts for
	return c.sum / (l.hours + prior)
}

// weights returns how much each candidate is to be believed; they add up to 1.
func (l *Learner) weights() []float64 {
	noise := 2 * float64(probeNoise*probeNoise)
	logs, most := make([]float64, len(l.boards)), math.Inf(-1)
	for i := range l.boards {
		c := &l.boards[i]
		o, f := l.offset(c), math.Log(c.factor)/factorSpread
		misfit := c.sq - 2*o*c.sum + o*o*l.hours
		logs[i] = -f*f/2 - misfit/noise - o*o/float64(2*restless*restless)
		most = max(most, logs[i])
	}
	total := 0.0
	for i := range logs {
		logs[i] = math.Exp(logs[i] - most)
		total += logs[i]
	}
	for i := range logs {
		logs[i] /= total
	}
	return logs
}

// Surface returns the temperature of the surface at the instant of the last
// reading of the air, and its standard uncertainty. The longer the probe has
// been silent, the less what it taught is relied on.
func (l *Learner) Surface() (t sensors.Celsius, sigma sensors.Kelvins) {
	if l.hours == 0 {
		return l.described().Surface()
	}
	w := l.weights()
	mean, square := 0.0, 0.0
	for i := range l.boards {
		c := &l.boards[i]
		at, _ := c.board.Surface()
		v := float64(at) + l.offset(c)
		mean += w[i] * v
		square += w[i] * v * v
	}
	forgotten := 1 - math.Exp(-float64(l.at.Sub(l.taught))/float64(taughtHolds))
	variance := max(square-mean*mean, 0) + float64(probeNoise*probeNoise) + forgotten*float64(restless*restless)
	return sensors.Celsius(mean), sensors.Kelvins(math.Sqrt(variance))
}

func (l *Learner) described() *Estimator {
	for i := range l.boards {
		if l.boards[i].factor == 1 {
			return l.boards[i].board
		}
	}
	return l.boards[0].board
}

// Clone returns a learner that goes on from here by itself.
func (l *Learner) Clone() *Learner {
	c := *l
	c.boards = make([]candidate, len(l.boards))
	for i, b := range l.boards {
		c.boards[i] = b
		c.boards[i].board = b.board.Clone()
	}
	return &c
}
