package forecast

import "math"

const (
	seasonHalfLife = 4.0  // days
	kindHalfLife   = 10.0 // days, for working days and weekends apart
	anomalyLife    = 36.0 // h in which a difference from the usual falls to 1/e
	ridgeShare     = 0.35 // of the regression in the forecast
	trusted        = 2.0  // judged errors that the regression may be off the usual: it knows no heater that was never on
	stale          = 6    // steps for which the last value known stands in
)

// series forecasts one quantity.
type series struct {
	values  []float64 // NaN where nothing is known
	outdoor []float64
	all     season
	kinds   [2]season // of working days and of weekends
	leads   []lead
	origins [leads + 1]origin // the latest steps, by step modulo their number
	now     float64           // the last value known; NaN once it is stale
	since   int               // its step
	sum     float64           // of all values known
	known   float64           // and how many they are
	scratch []float64
}

func newSeries() *series {
	s := &series{all: newSeason(seasonHalfLife), now: math.NaN(), leads: make([]lead, 0, leads)}
	s.kinds = [2]season{newSeason(kindHalfLife), newSeason(kindHalfLife)}
	for ahead := range leads {
		s.leads = append(s.leads, newLead(ahead+1))
	}
	return s
}

// moment is what of a step is the same for every quantity.
type moment struct {
	kinds   [leads + 1]int // of day: of this step and of those after it
	weights *weights
}

var intervalLevels = []float64{(1 - interval) / 2, (1 + interval) / 2}

// step takes in the value of the next step, and makes the forecasts from it
// that later ones are to be judged by.
func (s *series) step(value, outdoor float64, m *moment) {
	i := len(s.values)
	s.values = append(s.values, value)
	s.outdoor = append(s.outdoor, outdoor)
	usual := baseline{all: s.all.mean(i)}
	usual.kind = s.kinds[m.kinds[0]].towards(i, usual.all)
	s.all.add(i, value)
	s.kinds[m.kinds[0]].add(i, value)
	switch {
	case !math.IsNaN(value):
		s.now, s.since = value, i
		s.sum += value
		s.known++
	case i-s.since > stale:
		s.now = math.NaN()
	}
	usual.day = s.mean(i, perDay)
	usual.recent = s.mean(i, int(3/Step.Hours()))
	*s.origin(i) = origin{baseline: usual, now: s.now}
	for k := range s.leads {
		l := &s.leads[k]
		l.learn(i, value, s)
		l.pending[i%l.ahead] = s.forecast(i, l, m)
	}
}

// baseline is what the present is compared with: the usual value of this half
// hour, as known before it came, on all days and on days of its kind, and the
// means of the last day and of the last three hours.
type baseline struct{ all, kind, day, recent float64 }

// origin is what the forecasts from one step start from.
type origin struct {
	baseline
	now float64
}

// origin is that of a step as long ago as the longest lead, or later.
func (s *series) origin(i int) *origin { return &s.origins[i%len(s.origins)] }

// forecast makes the forecast from step i.
func (s *series) forecast(i int, l *lead, m *moment) pending {
	none := float32(math.NaN())
	p := pending{point: none, usualThere: none, reach: none}
	if math.IsNaN(s.now) {
		return p
	}
	s.point(&p, i, l, m)
	if i%checkEvery == 0 && l.past.len() > 0 {
		var reach [2]float64
		s.scratch = l.spread(m.weights, i, intervalLevels, reach[:], s.scratch)
		p.reach = float32(reach[1])
	}
	return p
}

// point fills in the value that is forecast.
func (s *series) point(p *pending, i int, l *lead, m *moment) {
	b := s.origin(i).baseline
	there := s.all.mean(i + l.ahead)
	p.there = float32(there)
	fades := math.Exp(-float64(l.ahead) * Step.Hours() / anomalyLife)
	if math.IsNaN(there + b.all + b.day) {
		mean := s.sum / s.known
		p.point = float32(mean + (s.now-mean)*fades)
		return
	}
	usualThere := s.kinds[m.kinds[l.ahead]].towards(i+l.ahead, there)
	p.usualThere = float32(usualThere)
	usual := usualThere + (s.now-b.kind)*fades
	x := s.features(i, l.ahead, p)
	regressed := s.now + l.ridge.predict(&x)
	most := trusted * judged(l.ahead)
	p.point = float32(usual + ridgeShare*math.Min(math.Max(regressed-usual, -most), most))
}

// features are those of the forecast from step i: the same when it is made and
// when its truth has come.
func (s *series) features(i, ahead int, p *pending) features {
	b := s.origin(i)
	there := float64(p.there)
	return features{
		there - b.now, there - b.all, or(s.at(i+ahead-days(ahead)*perDay), there) - b.now,
		b.day - b.now, b.now - or(s.at(i-2), b.now), or(b.recent, b.now) - b.now,
		float64(p.usualThere) - there, or(s.outdoor[i], b.now) - b.now, 1,
	}
}

// days is how many whole days a lead has to be put back to be in the past.
func days(ahead int) int { return (ahead + perDay - 1) / perDay }

func (s *series) at(i int) float64 {
	if i < 0 {
		return math.NaN()
	}
	return s.values[i]
}

// mean is that of the last n values, if a third of them is known.
func (s *series) mean(i, n int) float64 {
	sum, known := 0.0, 0
	for _, v := range s.values[max(i-n+1, 0) : i+1] {
		if !math.IsNaN(v) {
			sum += v
			known++
		}
	}
	if 3*known < n {
		return math.NaN()
	}
	return sum / float64(known)
}

func or(v, otherwise float64) float64 {
	if math.IsNaN(v) {
		return otherwise
	}
	return v
}
