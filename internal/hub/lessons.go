package hub

import (
	"context"
	"fmt"
	"time"

	"recoat/drying"
	"recoat/drying/learn"
	"recoat/internal/follow"
	"recoat/internal/shop"
)

// lessons is what touch tests have taught.
type lessons struct {
	// read holds each test as learn takes it, by its id. It is reckoned once:
	// readings that come late after that are taken in at the next start.
	read    map[string]learn.Test
	told    map[string]bool // tests of which was said why they teach nothing
	refuted map[string]uint32
	shop    *learn.Shop   // nil: nothing yet
	waiting bool          // a test teaches nothing yet, its readings may still come
	tried   time.Duration // when that was last looked at
}

// The readings of a test that teaches nothing are looked for so often, and for
// so long after it was made.
const (
	relearnEvery = time.Minute
	relearnFor   = 24 * time.Hour
)

// relearn reads the journal's touch tests and draws from all of them what there
// is to learn. A test that was undone is no longer among them. What cannot be
// read leaves the lessons as they were.
func (h *Hub) relearn(ctx context.Context) error {
	touches, err := h.opt.Journal.AllTouches(ctx)
	if err != nil {
		return err
	}
	now := h.opt.Now()
	h.lessons.tried, h.lessons.waiting = now.Mono, false
	var tests []learn.Test
	priors, refuted := map[string]learn.Prior{}, map[string]uint32{}
	for _, t := range touches {
		coat, err := h.opt.Journal.Coat(ctx, t.Coat)
		if err != nil {
			return err
		}
		if t.Feel != shop.Dry {
			refuted[coat.ID]++
		}
		prior, err := learn.PriorOf(coat.Product.Label)
		if err != nil {
			return err
		}
		priors[coat.Product.ID] = prior
		test, err := h.touched(ctx, coat, t)
		if err != nil {
			h.lessons.waiting = h.lessons.waiting || now.Wall.Sub(t.At) < relearnFor
			continue
		}
		tests = append(tests, test)
	}
	learnt, err := learn.Learn(tests, priors)
	if err != nil {
		return fmt.Errorf("learn from touch tests: %w", err)
	}
	h.lessons.shop, h.lessons.refuted = learnt, refuted
	return nil
}

// touched returns a touch test as learn takes it. Why one teaches nothing is
// said once.
func (h *Hub) touched(ctx context.Context, coat shop.Coat, t shop.Touch) (learn.Test, error) {
	if test, known := h.lessons.read[t.ID]; known {
		return test, nil
	}
	test, err := h.readTouch(ctx, coat, t)
	if err == nil {
		h.lessons.read[t.ID] = test
		return test, nil
	}
	if !h.lessons.told[t.ID] {
		h.opt.Log.Info("a touch test that teaches nothing of the product", "coat", coat.ID, "reason", err)
		h.lessons.told[t.ID] = true
	}
	return test, err
}

// study looks once more for the readings of tests that teach nothing yet.
func (h *Hub) study(ctx context.Context) {
	if h.lessons.waiting && h.opt.Now().Mono-h.lessons.tried >= relearnEvery {
		h.journalChanged(ctx)
	}
}

// readTouch follows a coat, as if nothing had been learnt yet, to the instant at
// which it was touched.
func (h *Hub) readTouch(ctx context.Context, coat shop.Coat, t shop.Touch) (learn.Test, error) {
	stays, err := follow.Stays(ctx, h.places(), coat)
	if err != nil {
		return learn.Test{}, err
	}
	samples, err := follow.Samples(ctx, h.opt.Readings, stays, t.At)
	if err != nil {
		return learn.Test{}, err
	}
	f := drying.NewFollower(drying.Coat{Product: coat.Product.Label, Applied: coat.Applied, Film: coat.Film})
	if err := f.Add(samples...); err != nil {
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
