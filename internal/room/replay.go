package room

import (
	"errors"
	"fmt"
	"slices"
	"sort"
	"strconv"
	"time"

	"recoat/drying"
	"recoat/internal/alert"
	"recoat/sensors"
)

// Replayed is what recorded conditions would have done to a coat, and what the
// finisher would have been told.
type Replayed struct {
	Estimates []drying.Estimate // seen from the end of the record
	RecoatBy  time.Time
	Told      []alert.Transition // those with a cause, in order
	Steps     []alert.Transition // all of them
	Ended     time.Time          // when the record had been played
	Exposure  drying.Exposed     // from the coat to its last stage reached, or the end
	Findings  []drying.Finding
}

// replayNode is the node that a record is played through, and replayProbe the
// surface probe on the coat.
const (
	replayNode  = "record"
	replayProbe = "record"
)

// leadIn is how long before its coat a record is played.
const leadIn = time.Hour

// Replay plays recorded conditions, in order of time, through a room in which
// one coat dries, minute by minute, as if the node had sent them live. The
// coat's probe is the record's own surface, where it has one.
func Replay(cfg Config, job Job, samples []drying.Sample) Replayed {
	return ReplayWatched(cfg, job, samples, func(int, int) {})
}

// ReplayWatched is Replay that says, sample by sample, how far it is.
func ReplayWatched(cfg Config, job Job, samples []drying.Sample, watch func(done, of int)) Replayed {
	ids := 0
	cfg.Engine = alert.NewEngine(alert.EngineConfig{NewID: func() string {
		ids++
		return "replay-" + strconv.Itoa(ids)
	}})
	cfg.NoForecast = true
	job.Probe = replayProbe
	played := samples[sort.Search(len(samples), func(i int) bool { return !samples[i].At.Before(job.Applied.Add(-leadIn)) }):]
	p := player{room: New(cfg), began: job.Applied.Add(-leadIn), stands: rowStands(played)}
	p.step(JobsChanged{Jobs: []Job{job}})
	for i, s := range played {
		p.passUntil(s.At)
		p.arrive(s)
		watch(i+1, len(played))
	}
	end := samples[len(samples)-1].At
	coat := drying.Coat{Product: job.Product, Applied: job.Applied, Film: job.Film}
	f := p.room.jobs[0]
	return Replayed{
		Estimates: f.estimates, RecoatBy: f.recoatBy(), Told: p.told, Steps: p.steps, Ended: end,
		Exposure: drying.Exposure(samples, job.Product.Limits, job.Applied, lastReached(f.estimates, end)),
		Findings: drying.Findings(coat, samples),
	}
}

// lastReached is when the last of the stages that were reached was, or the end
// of the record where a stage is still to come.
func lastReached(estimates []drying.Estimate, end time.Time) time.Time {
	var last time.Time
	for _, e := range estimates {
		if !e.Reached {
			return end
		}
		if e.Likely.After(last) {
			last = e.Likely
		}
	}
	return last
}

// player steps a room through a record and gathers what it tells.
type player struct {
	room   *Room
	began  time.Time
	last   time.Time     // of the last event
	row    drying.Sample // of the record, the newest
	stands time.Duration // for how long a row speaks for the present
	seq    uint64
	told   []alert.Transition
	steps  []alert.Transition
}

func (p *player) at(t time.Time) alert.Instant {
	p.last = t
	return alert.Instant{Wall: t, Mono: t.Sub(p.began)}
}

// rowStands is for how long a row of the record speaks for the present: half as
// long again as rows usually lie apart, and no less than a live reading does.
func rowStands(samples []drying.Sample) time.Duration {
	var apart []time.Duration
	for i := 1; i < len(samples); i++ {
		apart = append(apart, samples[i].At.Sub(samples[i-1].At))
	}
	if len(apart) == 0 {
		return readingLife
	}
	slices.Sort(apart)
	usual := apart[len(apart)/2]
	return min(max(readingLife, usual+usual/2), longestStanding)
}

// longestStanding is as long as the drying model lets a sample stand.
const longestStanding = 90 * time.Minute

// gapTicks is for how much of a gap in the record the minutes are counted; what
// silence there is to tell of is told by then.
const gapTicks = 2 * time.Hour

// passUntil lets the minutes pass up to t: while the last row stands, as if the
// node went on sending it, then in silence, and of a long gap only its first
// part.
func (p *player) passUntil(t time.Time) {
	if p.last.IsZero() {
		return
	}
	for until := p.last.Add(p.stands + gapTicks); t.Sub(p.last) > slotWidth && p.last.Before(until); {
		next := p.last.Add(slotWidth)
		if next.Sub(p.row.At) <= p.stands {
			p.send(next)
		} else {
			p.step(Tick{At: p.at(next)})
		}
	}
}

// arrive plays a row of the record.
func (p *player) arrive(s drying.Sample) {
	p.row = s
	p.send(s.At)
}

// send has the node send the row at an instant.
func (p *player) send(at time.Time) {
	p.seq++
	s := p.row
	s.At = at
	p.step(Arrived{At: p.at(at), Round: recordedRound(p.seq, s)})
}

func (p *player) step(e Event) {
	for _, effect := range p.room.Step(e) {
		if n, ok := effect.(Notify); ok {
			p.steps = append(p.steps, n.Transitions...)
			for _, t := range n.Transitions {
				if t.Cause != alert.Untold {
					p.told = append(p.told, t)
				}
			}
		}
	}
}

func recordedRound(seq uint64, s drying.Sample) sensors.Round {
	r := sensors.Round{Node: replayNode, Boot: "record", Seq: seq, Time: s.At, ClockSet: true}
	add := func(q sensors.Quantity, probe string, v float64) {
		r.Readings = append(r.Readings, sensors.Reading{Channel: sensors.Channel{Quantity: q, Probe: probe}, Value: v})
	}
	add(sensors.AirTemperature, "", float64(s.Air))
	add(sensors.AirHumidity, "", float64(s.Humidity))
	if s.SurfaceMeasured {
		add(sensors.SurfaceTemperature, replayProbe, float64(s.Surface))
	}
	if s.Pressure > 0 {
		add(sensors.AirPressure, "", float64(s.Pressure))
	}
	if s.AirSpeed > 0 {
		add(sensors.AirSpeed, "", float64(s.AirSpeed))
	}
	return r
}

// CheckReplay says what is wrong with playing a record for a coat applied at
// an instant, or nil.
func CheckReplay(samples []drying.Sample, applied time.Time) error {
	if len(samples) == 0 {
		return errors.New("the record is empty")
	}
	first, last := samples[0].At, samples[len(samples)-1].At
	if applied.Before(first) || applied.After(last) {
		return fmt.Errorf("the coat was applied at %s, outside the record, which runs from %s to %s", applied.Format(time.RFC3339), first.Format(time.RFC3339), last.Format(time.RFC3339))
	}
	return nil
}
