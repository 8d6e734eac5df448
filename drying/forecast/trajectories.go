package forecast

import (
	"math"
	"math/rand/v2"
	"slices"
	"time"
)

// fewestOrigins is how many past forecasts it takes for trajectories to be
// ordered like their errors; with fewer, chance alone orders them.
const fewestOrigins = perDay

// orderer ranks the members at every lead, so that each stays above or below
// the others for as long as errors of past forecasts did. This is the Schaake
// shuffle (Clark et al. 2004, Journal of Hydrometeorology 5, 243-262) with
// past errors in place of past weather.
type orderer struct {
	rng     *rand.Rand
	origins []int // one for each member; empty where there are too few
	noise   [quantityCount][]float64
	scores  []float64
	ranks   []int
}

func (f *Forecaster) newOrderer(last int, o Options) *orderer {
	d := &orderer{
		rng:    rand.New(rand.NewPCG(o.Seed, uint64(last))),
		scores: make([]float64, o.Members), ranks: make([]int, o.Members),
	}
	for q := range d.noise {
		d.noise[q] = make([]float64, o.Members)
	}
	half := &f.series[Air].leads[leads/2-1].past
	known := make([]int, 0, half.len())
	for e := range half.inOrder() {
		known = append(known, e.origin)
	}
	if len(known) < fewestOrigins {
		return d
	}
	slices.Sort(known)
	d.draw(known, o.Members, func(origin int) float64 { return f.weights.of(origin, last, leads/2) })
	return d
}

// draw picks an origin for each member, by the weights that the widths give its
// errors too: what a coat goes through from eight in the evening on is a night,
// and an error that a working day has kept up says little of it.
func (d *orderer) draw(known []int, members int, weight func(origin int) float64) {
	total := 0.0
	sums := make([]float64, len(known))
	for i, origin := range known {
		total += weight(origin)
		sums[i] = total
	}
	for range members {
		i, _ := slices.BinarySearch(sums, total*d.rng.Float64())
		d.origins = append(d.origins, known[min(i, len(known)-1)])
	}
}

// noiseKept is what half an hour leaves of the chance that orders members
// which share an origin: a day's memory, judgement.
var noiseKept = math.Exp(-Step.Hours() / 24)

// stir moves that chance on by a step. The surface follows the air.
func (d *orderer) stir(first bool) {
	keep, add := noiseKept, math.Sqrt(1-noiseKept*noiseKept)
	if first {
		keep, add = 0, 1
	}
	for m := range d.noise[Air] {
		d.noise[Air][m] = keep*d.noise[Air][m] + add*d.rng.NormFloat64()
		d.noise[DewPoint][m] = keep*d.noise[DewPoint][m] + add*d.rng.NormFloat64()
		d.noise[Surface][m] = d.noise[Air][m]
	}
}

// noiseShare is the standard deviation of that chance, as a share of that of
// the errors: enough to part members of one origin, too little to reorder those
// of different ones.
const noiseShare = 0.1

// order returns for each member its rank at one lead, lowest first. An error
// that is not known yet stands as it did at the last lead that is.
func (d *orderer) order(q Quantity, s *series, ahead int) []int {
	chance := 1.0
	if len(d.origins) > 0 {
		chance = noiseShare * deviation(&s.leads[ahead-1].past)
	}
	for m := range d.scores {
		d.scores[m] = chance * d.noise[q][m]
		if len(d.origins) > 0 {
			d.scores[m] += s.errorFrom(d.origins[m], ahead)
		}
		d.ranks[m] = m
	}
	slices.SortFunc(d.ranks, func(a, b int) int {
		switch {
		case d.scores[a] < d.scores[b]:
			return -1
		case d.scores[a] > d.scores[b]:
			return 1
		}
		return a - b
	})
	return d.ranks
}

func (s *series) errorFrom(origin, ahead int) float64 {
	for a := ahead; a > 0; a-- {
		if e, ok := s.leads[a-1].past.of(origin); ok {
			return e
		}
	}
	return 0
}

func deviation(p *past) float64 {
	sum := 0.0
	for e := range p.inOrder() {
		sum += e.error * e.error
	}
	return math.Sqrt(sum/float64(p.len())) + 1e-9
}

// ensemble draws the trajectories from the step last on.
func (f *Forecaster) ensemble(last int, o Options) *Ensemble {
	e := newEnsemble(f.grid.end(last), o.Members)
	e.surfaceMeasured = f.surfaceMeasured(last)
	levels, spread := make([]float64, o.Members), make([]float64, o.Members)
	for m := range levels {
		levels[m] = (float64(m) + 0.5) / float64(o.Members)
	}
	order := f.newOrderer(last, o)
	var scratch []float64
	for ahead := 1; ahead <= leads; ahead++ {
		order.stir(ahead == 1)
		for q, s := range f.series {
			l := &s.leads[ahead-1]
			e.judged[ahead-1] = e.judged[ahead-1] || judgedShare(l.past.len()) > 0
			scratch = l.spread(f.weights, last, levels, spread, scratch)
			point := float64(l.pending[last%l.ahead].point)
			for rank, m := range order.order(Quantity(q), s, ahead) {
				e.values[q][m][ahead-1] = point + spread[rank]
			}
		}
	}
	e.dryOut()
	return e
}

// surfaceMeasured reports whether the last step with readings had a probe.
func (f *Forecaster) surfaceMeasured(last int) bool {
	for i := min(last, len(f.grid.bins)-1); i >= 0 && i >= last-stale; i-- {
		if b := &f.grid.bins[i]; b.count > 0 {
			return b.measured > 0
		}
	}
	return false
}

func newEnsemble(at time.Time, members int) *Ensemble {
	e := &Ensemble{At: at}
	for q := range e.values {
		e.values[q] = make([][]float64, members)
		for m := range e.values[q] {
			e.values[q][m] = make([]float64, leads)
		}
	}
	return e
}
