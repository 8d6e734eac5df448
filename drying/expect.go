package drying

// Expect returns how long each stage takes under constant conditions, for a
// film of the given wet thickness (0: the label's). At the label's own
// conditions and film it returns the label's own times.
func (p Product) Expect(c Conditions, film Microns) []Expectation {
	m, err := newModel(p, film)
	if err != nil {
		return refuse(p, Reason{Code: "product", Text: err.Error()})
	}
	if err := c.Check(); err != nil {
		return refuse(m.product, unknownReason(err))
	}
	var now moment
	m.at(&c, &now)
	blocked := m.reasons(&now)
	all := make([]Expectation, StageCount)
	for i, s := range Stages() {
		all[i] = m.expect(s, &now)
		all[i].Blocked = blocked
	}
	return all
}

func (m *model) expect(s Stage, now *moment) Expectation {
	e := Expectation{
		Stage: s, Stated: m.product.Stated.Times[s], Assumed: m.product.IsAssumed(s.LabelKey()),
		Pace: m.pace(s, now),
	}
	if e.Pace > 0 {
		w := width(now.variance + m.stageVariance(s))
		e.Expected = scale(e.Stated, 1/e.Pace)
		e.Low, e.High = scale(e.Stated, 1/(e.Pace*w)), scale(e.Stated, w/e.Pace)
	}
	return e
}

// refuse gives every stage the same reason why no time can be given.
func refuse(p Product, why Reason) []Expectation {
	all := make([]Expectation, StageCount)
	for i, s := range Stages() {
		all[i] = Expectation{
			Stage: s, Stated: p.Stated.Times[s], Assumed: p.IsAssumed(s.LabelKey()), Blocked: []Reason{why},
		}
	}
	return all
}
