package dashboards

import (
	"context"
	"net/http"
	"slices"
	"time"

	"recoat/drying"
	"recoat/internal/room"
	"recoat/internal/shop"
)

// touchAdd notes what was found by touch, and answers with what was reckoned.
func (s *server) touchAdd(w http.ResponseWriter, r *http.Request) {
	s.tap(w, r, "note a touch test", func(ctx context.Context, a answers, made time.Time) (taken, error) {
		t := taken{noted: "touch", to: "/"}
		c, known := coatNow(s.house.Snapshots(), r.PathValue("id")) // before it learns from the test
		touch, err := s.book.Touches.AddTouch(ctx, shop.Touch{Coat: r.PathValue("id"), Feel: shop.Feel(a.text("found")), At: made}, s.now())
		if err != nil {
			return t, err
		}
		t.of = touch.ID
		if known {
			t.says = s.words.answerTo(c, touch.Feel, touch.At)
		}
		return t, nil
	})
}

func (s *server) touchUndo(w http.ResponseWriter, r *http.Request) {
	s.tap(w, r, "undo a touch test", func(ctx context.Context, _ answers, _ time.Time) (taken, error) {
		return taken{noted: "undone", to: "/"}, s.book.Touches.UndoTouch(ctx, r.PathValue("id"), s.now())
	})
}

// answerTo says what was reckoned of a coat against what was found by touch.
func (w words) answerTo(c room.CoatNow, feel shop.Feel, at time.Time) string {
	reckoned := func(s drying.Stage) (drying.Estimate, bool) {
		i := slices.IndexFunc(c.Estimates, func(e drying.Estimate) bool { return e.Stage == s })
		if i < 0 || c.Estimates[i].Likely.IsZero() {
			return drying.Estimate{}, false
		}
		return c.Estimates[i], true
	}
	stage, found := drying.TackFree, "Still tacky"
	switch feel {
	case shop.Wet:
		stage, found = drying.SetToTouch, "Still wet"
	case shop.Dry:
		found = "Dry to the touch"
	}
	e, ok := reckoned(stage)
	if !ok {
		return found + ". No time was reckoned for this; touch decides."
	}
	clock, early := w.clock(e.Likely.Round(told), at), e.Likely.After(at)
	switch {
	case feel == shop.Dry && !early, feel != shop.Dry && early:
		return found + ", as reckoned: " + stageWords[stage].state + " at about " + clock + "."
	case feel == shop.Dry:
		return found + ", sooner than reckoned: " + stageWords[stage].state + " was expected at about " + clock + ". The times move up."
	}
	return found + ", though " + stageWords[stage].state + " was reckoned for about " + clock + ". The times move back."
}
