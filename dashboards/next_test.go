package dashboards

import (
	"strings"
	"testing"
	"time"

	"recoat/drying"
	"recoat/drying/odour"
	"recoat/internal/room"
)

// whyOf joins the reasons of the step that says what.
func whyOf(t *testing.T, steps []step, what string) string {
	t.Helper()
	for _, s := range steps {
		if strings.Contains(s.What, what) {
			return strings.Join(s.Why, " ")
		}
	}
	t.Fatalf("no step says %q: %+v", what, steps)
	return ""
}

func TestTheNextStepSaysWhetherTheRoomWillDo(t *testing.T) {
	for name, c := range map[string]struct {
		then room.Then
		want []string
	}{
		"it will":       {room.Then{Chance: 0.9, Good: true}, []string{"will likely do then: 90 in 100"}},
		"as good as":    {room.Then{Chance: 1, Good: true}, []string{"more than 95 in 100"}},
		"it will not":   {room.Then{Chance: 0.3, Fails: "too damp at the surface", FailsAt: evening.Add(4 * time.Hour), NextGood: evening.Add(11 * time.Hour)}, []string{"Wait: only 30 in 100", "Likely first at 01:40.", "Too damp at the surface.", "next good hour to start is"}},
		"not for hours": {room.Then{Chance: 0.1}, []string{"Wait: only 10 in 100", "No good hour"}},
	} {
		s := twoCoats(evening)
		s.Coats[0].Then = &c.then
		s.Coats[0].Lesson = "in your shop this colour takes 1.2× the label's time, from 4 touch tests"
		why := whyOf(t, shopWords.coatSteps(s, s.Coats[0], evening), coatName(s.Coats[0]))
		for _, want := range append(c.want, "In your shop this colour takes 1.2×") {
			if !strings.Contains(why, want) {
				t.Errorf("%s: no %q in %q", name, want, why)
			}
		}
	}
}

func TestASmellIsToldOfOnceTheCoatIsDry(t *testing.T) {
	s := twoCoats(evening)
	c := s.Coats[0]
	c.Odour = &odour.Ready{Likely: evening.Add(100 * time.Hour), Low: evening.Add(50 * time.Hour), High: evening.Add(200 * time.Hour), Basis: "by its kind"}
	for i := range c.Estimates {
		if c.Estimates[i].Stage == drying.DryToRecoat {
			c.Estimates[i].Reached = false
		}
	}
	for _, step := range shopWords.coatSteps(s, c, evening) {
		if strings.Contains(step.What, "smell") {
			t.Errorf("a wet coat is told to lose its smell: %+v", step)
		}
	}
	for i := range c.Estimates {
		if c.Estimates[i].Stage == drying.DryToRecoat {
			c.Estimates[i].Reached, c.Estimates[i].Likely = true, evening
		}
	}
	if why := whyOf(t, shopWords.coatSteps(s, c, evening), "likely without smell"); !strings.Contains(why, "a nose decides") || !strings.Contains(why, "By its kind.") {
		t.Errorf("%q", why)
	}
}
