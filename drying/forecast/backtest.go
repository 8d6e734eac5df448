package forecast

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"recoat/drying"
)

// Backtest says how forecasts are to be held against what then happened.
type Backtest struct {
	Every   time.Duration // between forecasts, in whole Steps; Step where zero
	Warm    time.Duration // history before the first one is scored; four days where zero
	Members int           // of each ensemble; 200 where zero
	Seed    uint64
	Product *drying.Product // where set, when its coats were ready is scored too
	Outdoor []Outdoor

	Each     func(Issued)            // is given every forecast that is scored; may be nil
	Progress func(done, of int)      // is told after every instant; may be nil
	grid     grid                    // of the whole record: the truth
	naive    [quantityCount][]naives // by place in ScoredLeads
	tallies  [quantityCount][]tally
	ready    *readyTest
}

// Issued is one forecast with its truth: °C, or for a coat the hours until a
// stage is ready.
type Issued struct {
	IssuedAt, TargetAt time.Time
	Quantity           string  // as Quantity says, or "ready " and the stage
	Low, Median, High  float64 // at Levels
	Observed           float64
}

// Report is what a backtest found.
type Report struct {
	From, To time.Time // of the record
	Issues   int       // instants at which forecasts were made
	Surface  bool      // whether a probe was on a piece
	Leads    []LeadReport
	Ready    *Score // over all coats; nil where none was asked for
}

// LeadReport is what was found at one lead.
type LeadReport struct {
	Lead                   time.Duration
	Air, DewPoint, Surface Score
	// Ready is over the stages that were forecast, as a median, for later than
	// the lead before this one, and by this one; hours.
	Ready *Score
}

const (
	usualWarm       = 4 * 24 * time.Hour
	backtestMembers = 200
)

// Run makes forecasts all through a record, each from no more than was known
// at its instant, and scores them. The samples have to be in order of time.
func (b Backtest) Run(ctx context.Context, samples []drying.Sample) (Report, error) {
	if err := b.prepare(samples); err != nil {
		return Report{}, err
	}
	f := New(nil)
	r := Report{From: samples[0].At, To: samples[len(samples)-1].At}
	fed, fedOutdoor := 0, 0
	first := int(b.Warm / Step)
	for i := range b.grid.bins {
		b.learn(i)
		at := b.grid.end(i)
		if i < first || (i-first)%int(b.Every/Step) != 0 {
			continue
		}
		if err := ctx.Err(); err != nil {
			return r, err
		}
		for ; fed < len(samples) && samples[fed].At.Before(at); fed++ {
			f.Add(samples[fed])
		}
		for ; fedOutdoor < len(b.Outdoor) && b.Outdoor[fedOutdoor].At.Before(at); fedOutdoor++ {
			f.AddOutdoor(b.Outdoor[fedOutdoor])
		}
		if b.Progress != nil {
			b.Progress(i+1, len(b.grid.bins))
		}
		e, err := f.Issue(at, Options{Members: b.Members, Seed: b.Seed})
		if err != nil {
			continue // a gap: nothing would have been shown either
		}
		r.Issues++
		r.Surface = r.Surface || e.surfaceMeasured
		b.score(e, i)
		if b.ready != nil {
			b.ready.score(e, samples, fed, b.Each)
		}
	}
	b.report(&r)
	return r, nil
}

func (b *Backtest) prepare(samples []drying.Sample) error {
	if b.Every == 0 {
		b.Every = Step
	}
	if b.Warm == 0 {
		b.Warm = usualWarm
	}
	if b.Members == 0 {
		b.Members = backtestMembers
	}
	if b.Every < Step || b.Every%Step != 0 {
		return fmt.Errorf("backtest: every %v: %v or a multiple of it would do", b.Every, Step)
	}
	for _, s := range samples {
		b.grid.add(s)
	}
	if length := b.grid.length(); length <= b.Warm {
		return fmt.Errorf("backtest: the record lasts %v: more than %v would do", length, b.Warm)
	}
	for q := range b.naive {
		b.naive[q] = make([]naives, len(ScoredLeads()))
		b.tallies[q] = make([]tally, len(ScoredLeads()))
	}
	if b.Product != nil {
		b.ready = newReadyTest(*b.Product, &b.grid)
	}
	return nil
}

// learn lets the naive forecasts see a step.
func (b *Backtest) learn(i int) {
	for q := range b.naive {
		for k, lead := range ScoredLeads() {
			b.naive[q][k].learn(&b.grid, Quantity(q), i, int(lead/Step))
		}
	}
}

// score holds an ensemble made at the end of step i against what came.
func (b *Backtest) score(e *Ensemble, i int) {
	for k, lead := range ScoredLeads() {
		ahead := int(lead / Step)
		for q := range Quantity(quantityCount) {
			truth := b.grid.value(q, i+ahead)
			last, yesterday, ok := b.naive[q][k].say(&b.grid, q, i, ahead)
			if math.IsNaN(truth) || !ok || q == Surface && !e.surfaceMeasured {
				continue
			}
			said := e.said(q, lead)
			b.tallies[q][k].add((i+ahead)/(perDay*days(ahead)), truth, [3]quantiles{said, last, yesterday})
			if b.Each != nil {
				b.Each(Issued{e.At, e.At.Add(lead), q.String(), said[0], said[1], said[2], truth})
			}
		}
	}
}

func (e *Ensemble) said(q Quantity, lead time.Duration) quantiles {
	all := make([]float64, e.Members())
	for m := range all {
		all[m] = e.values[q][m][int(lead/Step)-1]
	}
	slices.Sort(all)
	return atLevels(all)
}

// atLevels reads sorted values at Levels.
func atLevels(sorted []float64) quantiles {
	var q quantiles
	for k, p := range Levels {
		q[k] = quantile(sorted, p)
	}
	return q
}

func (b *Backtest) report(r *Report) {
	for k, lead := range ScoredLeads() {
		l := LeadReport{
			Lead: lead, Air: b.tallies[Air][k].score(), DewPoint: b.tallies[DewPoint][k].score(), Surface: b.tallies[Surface][k].score(),
		}
		if b.ready != nil {
			s := b.ready.byLead[k].score()
			l.Ready = &s
		}
		r.Leads = append(r.Leads, l)
	}
	if b.ready != nil {
		s := b.ready.all.score()
		r.Ready = &s
	}
}
