package hub

import (
	"context"
	"fmt"

	"recoat/drying"
	"recoat/drying/learn"
	"recoat/internal/room"
	"recoat/internal/shop"
	"recoat/internal/store"
	"recoat/sensors"
)

// lessons is what touch tests have taught. What the label's clock said when a
// coat was touched never changes, so it is reckoned once for each test.
type lessons struct {
	read map[string]reading // by the touch test's id
	shop *learn.Shop        // nil: nothing yet
}

// reading is a touch test as learn takes it, or why it teaches nothing.
type reading struct {
	test learn.Test
	err  error
}

// relearn reads the journal's touch tests and draws from all of them what there
// is to learn. A test that was undone is no longer among them.
func (h *Hub) relearn(ctx context.Context) error {
	touches, err := h.opt.Journal.AllTouches(ctx)
	if err != nil {
		return err
	}
	var tests []learn.Test
	priors := map[string]learn.Prior{}
	for _, t := range touches {
		coat, err := h.opt.Journal.Coat(ctx, t.Coat)
		if err != nil {
			return err
		}
		prior, err := learn.PriorOf(coat.Product.Label)
		if err != nil {
			return err
		}
		priors[coat.Product.ID] = prior
		r, known := h.lessons.read[t.ID]
		if !known {
			if r.test, r.err = h.readTouch(ctx, coat, t); r.err != nil {
				h.opt.Log.Info("a touch test that teaches nothing of the product", "coat", coat.ID, "reason", r.err)
			}
			h.lessons.read[t.ID] = r
		}
		if r.err == nil {
			tests = append(tests, r.test)
		}
	}
	if h.lessons.shop, err = learn.Learn(tests, priors); err != nil {
		return fmt.Errorf("learn from touch tests: %w", err)
	}
	return nil
}

// readTouch follows a coat, as if nothing had been learnt yet, to the instant at
// which it was touched.
func (h *Hub) readTouch(ctx context.Context, coat shop.Coat, t shop.Touch) (learn.Test, error) {
	var record room.Record
	q := store.Query{Room: coat.Room, From: coat.Applied, To: t.At}
	err := h.opt.Readings.Rounds(ctx, q, func(r sensors.Round) error {
		record.Add(r)
		return nil
	})
	if err != nil {
		return learn.Test{}, err
	}
	f := drying.NewFollower(drying.Coat{Product: coat.Product.Label, Applied: coat.Applied, Film: coat.Film})
	if err := f.Add(record.Samples(coat.Part.Probe)...); err != nil {
		return learn.Test{}, err
	}
	return learn.NewTest(coat.Product.ID, coat.ID, f.Estimates(t.At, nil), learn.Feel(t.Feel))
}

// of returns what was learnt of a coat, and the sentence that says so.
func (l *lessons) of(c shop.Coat) (drying.Learnt, string) {
	if l.shop == nil {
		return drying.Learnt{}, ""
	}
	learnt := l.shop.Coat(c.Product.ID, c.ID)
	if learnt.Factor == 0 {
		return learnt, ""
	}
	return learnt, l.shop.Sentence(c.Product.ID, c.Product.Label.Name)
}
