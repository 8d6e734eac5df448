package simroom

import (
	"math/rand/v2"
	"time"
)

// crew is who comes and goes, and what they do to the door.
type crew struct {
	work     Work
	rng      *rand.Rand
	drawn    bool
	date     int // day of the year of the hours below
	from     time.Duration
	until    time.Duration // equal to from on a day off
	doorTill time.Time
}

func newCrew(w Work, rng *rand.Rand) *crew { return &crew{work: w, rng: rng} }

// step draws what happens in the dt from now on, and says whether somebody is
// there and whether the door stands open.
func (c *crew) step(now time.Time, dt time.Duration) (occupied, open bool) {
	if !c.drawn || now.YearDay() != c.date {
		c.plan(now)
	}
	clock := timeOfDay(now)
	occupied = clock >= c.from && clock < c.until
	open = now.Before(c.doorTill)
	if occupied && !open && c.rng.Float64() < c.work.Openings*dt.Hours() {
		c.doorTill = now.Add(time.Duration(c.rng.ExpFloat64() * float64(c.work.Open)))
		open = now.Before(c.doorTill)
	}
	return occupied, open
}

// plan draws the hours of a new day. It draws as often on a day off, so that
// one seed gives comparable weeks.
func (c *crew) plan(now time.Time) {
	works := c.rng.Float64() < c.work.Days[now.Weekday()]
	from, until := c.vary(c.work.From), c.vary(c.work.Until)
	c.drawn, c.date = true, now.YearDay()
	c.from, c.until = from, from
	if works {
		c.until = max(from, until)
	}
}

func (c *crew) vary(t time.Duration) time.Duration {
	return max(0, t+time.Duration((2*c.rng.Float64()-1)*float64(c.work.Spread)))
}
