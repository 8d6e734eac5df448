package drying

// Meter reads off conditions how fast one coat dries in them, for whoever
// counts by himself: over many courses of a room, or from many beginnings.
type Meter struct{ m *model }

// Gauge is what a Meter reads off conditions.
type Gauge struct {
	// Rates is the share of the way to each stage that is gained in a second,
	// with what was learnt of the product; 0 while a limit stops the clock.
	Rates [StageCount]float64
	// Window is the share of the recoat window that passes in a second: limits
	// do not stop it. It is 0 where the label states no window.
	Window float64
	// Variance is the square of the law's spread in these conditions.
	Variance float64
	// Broken has a bit set for each limit that is broken, by its place in
	// Meter.Limits, those included that spoil a film without stopping its clock.
	Broken uint32
}

// NewMeter refuses what Follow refuses.
func NewMeter(coat Coat) (*Meter, error) {
	m, err := newCoatModel(coat)
	if err != nil {
		return nil, err
	}
	return &Meter{m}, nil
}

// Limits returns the codes of the limits, as in a Reason, in order.
func (g *Meter) Limits() []string {
	codes := make([]string, len(g.m.bounds))
	for i := range codes {
		codes[i] = g.m.bounds[i].code
	}
	return codes
}

// Read returns what the conditions make of the coat, and false where nothing
// can be computed from them.
func (g *Meter) Read(c Conditions) (Gauge, bool) {
	if c.Check() != nil {
		return Gauge{}, false
	}
	var now moment
	g.m.at(&c, &now)
	read := Gauge{Variance: now.variance}
	for s := range read.Rates {
		read.Rates[s] = g.m.pace(Stage(s), &now) / (seconds(g.m.product.Stated.Times[s]) * g.m.learnt.factor())
	}
	if by := g.m.product.Stated.RecoatBy; by > 0 {
		read.Window = g.m.law.pace(DryToRecoat, now.times) / (seconds(by) * min(g.m.learnt.factor(), 1))
	}
	for i := range g.m.bounds {
		if g.m.bounds[i].broken(&now.moist) {
			read.Broken |= 1 << i
		}
	}
	return read, true
}

// Against says how the conditions, which Check has to accept, stand against
// the limit at a place in Limits.
func (g *Meter) Against(c Conditions, limit int) Reason {
	b, m := &g.m.bounds[limit], newMoist(c, g.m.law.wet)
	return b.reason(&m, 0, g.m.product.IsAssumed(b.key))
}

// Fixed returns the variance that goes with a stage wherever the coat dries.
// The width of the stage's time is that of Fixed and of the mean of Variance
// over the way.
func (g *Meter) Fixed(s Stage) float64 { return g.m.stageVariance(s) }
