package alert

import (
	"slices"
	"time"
)

// previewStep is how often a previewed router looks at the clock.
const previewStep = time.Minute

// Preview returns the messages that a recorded spell would have sent, in order:
// the transitions as an engine made them, routed under the configuration until
// an instant. What is still held back then comes last.
func Preview(c RouterConfig, transitions []Transition, until time.Time) ([]Message, error) {
	router, err := NewRouter(c)
	if err != nil || len(transitions) == 0 {
		return nil, err
	}
	var sent, held []Message
	began := transitions[0].At
	for now := began; len(transitions) > 0 || !now.After(until); now = now.Add(previewStep) {
		n := 0
		for n < len(transitions) && !transitions[n].At.After(now) {
			n++
		}
		for _, m := range router.Route(Instant{Wall: now, Mono: now.Sub(began)}, transitions[:n]) {
			held = slices.DeleteFunc(held, func(h Message) bool { return slices.Contains(m.Folds, h.ID) })
			if m.Status == Held {
				held = append(held, m)
				continue
			}
			m.Changed = now
			sent = append(sent, m)
		}
		transitions = transitions[n:]
	}
	return append(sent, held...), nil
}
