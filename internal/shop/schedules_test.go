package shop

import (
	"errors"
	"strings"
	"testing"
	"time"

	"recoat/drying"
	"recoat/internal/shop/schedule"
)

// steps are a sanding, a colour coat, and a second one that waits for it.
func steps() []schedule.Step {
	return []schedule.Step{
		{Kind: schedule.Sand, Grits: []int{150, 220}},
		{Kind: schedule.Colour, Words: "first"},
		{Kind: schedule.Colour, Words: "second", Waits: []schedule.Wait{{Step: 2, Stage: schedule.At(drying.DryToRecoat)}}},
	}
}

// numbered are the steps with their ids.
func numbered() []schedule.Step {
	all := steps()
	for i := range all {
		all[i].ID = i + 1
	}
	return all
}

func scheduled(t *testing.T) *Journal {
	t.Helper()
	j := furnished(t)
	for _, part := range []string{"p-0001.1", "p-0001.2"} {
		if err := j.SetSchedule(t.Context(), part, "own", steps(), evening); err != nil {
			t.Fatal(err)
		}
	}
	return j
}

// at is the id of the step that is next on the dresser's top; 0: none.
func at(t *testing.T, j *Journal) int {
	t.Helper()
	parts, err := j.Schedules(t.Context(), "p-0001")
	if err != nil {
		t.Fatal(err)
	}
	if n := parts[0].At(); n < len(parts[0].Steps) {
		return parts[0].Steps[n].ID
	}
	return 0
}

func TestCoatsAndTicksMoveAScheduleAndUndoingMovesItBack(t *testing.T) {
	j := scheduled(t)
	ctx := t.Context()
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	must(j.TickStep(ctx, "p-0001.1", 1, evening, false, evening))
	if n := at(t, j); n != 2 {
		t.Errorf("after the sanding: %d", n)
	}
	must(j.UntickStep(ctx, "p-0001.1", 1, evening))
	if n := at(t, j); n != 1 {
		t.Errorf("after taking it back: %d", n)
	}
	first := apply(t, j, "p-0001.1", evening)
	if open, err := j.OpenCoats(ctx, "back-room"); err != nil || len(open) != 1 || open[0].StepName != "colour 1 of 2" {
		t.Errorf("%+v, %v", open, err)
	}
	if n := at(t, j); n != 3 || first.Step != 2 {
		t.Errorf("the first coat is step %d, next is %d", first.Step, n)
	}
	second := apply(t, j, "p-0001.1", evening.Add(time.Hour))
	if n := at(t, j); n != 0 || second.Step != 3 {
		t.Errorf("the second coat is step %d, next is %d", second.Step, n)
	}
	if third := apply(t, j, "p-0001.1", evening.Add(2*time.Hour)); third.Step != 0 {
		t.Errorf("a coat that is not in the schedule is step %d", third.Step)
	}
	must(j.UndoCoat(ctx, second.ID, evening.Add(3*time.Hour)))
	if n := at(t, j); n != 3 {
		t.Errorf("after undoing the second coat: %d", n)
	}
	must(j.TickStep(ctx, "p-0001.1", 3, evening, true, evening))
	if n := at(t, j); n != 0 {
		t.Errorf("after skipping it: %d", n)
	}
	if apart, err := j.ApplyCoat(ctx, Application{Part: "p-0001.2", Product: "f-0001", Applied: evening, Step: NoStep}, evening); err != nil || apart.Step != 0 {
		t.Errorf("a coat apart from the schedule: %+v, %v", apart.Step, err)
	}
	if chosen, err := j.ApplyCoat(ctx, Application{Part: "p-0001.2", Product: "f-0001", Applied: evening.Add(time.Minute), Step: 3}, evening); err != nil || chosen.Step != 3 {
		t.Errorf("a coat for a step that was chosen: %+v, %v", chosen.Step, err)
	}
	if pieces, err := j.OpenPieces(ctx, "back-room"); err != nil || len(pieces) != 1 || pieces[0] != "p-0001" {
		t.Errorf("%v, %v", pieces, err)
	}
}

func TestMarksThatAreRefused(t *testing.T) {
	j := scheduled(t)
	ctx := t.Context()
	apply(t, j, "p-0001.1", evening)
	for says, err := range map[string]error{
		"is done by applying its coat":   j.TickStep(ctx, "p-0001.1", 3, evening, false, evening),
		"first is done already":          j.TickStep(ctx, "p-0001.1", 2, evening, true, evening),
		"was done by the coat c-0001":    j.UntickStep(ctx, "p-0001.1", 2, evening),
		"there is nothing to take back":  j.UntickStep(ctx, "p-0001.1", 3, evening),
		"lies in the future":             j.TickStep(ctx, "p-0001.1", 1, evening.Add(time.Hour), false, evening),
		"p-0001.1 has no step 9":         j.TickStep(ctx, "p-0001.1", 9, evening, false, evening),
		"is not the id of a part":        j.TickStep(ctx, "top", 1, evening, false, evening),
		"the part p-0009.1 has no step ": j.UntickStep(ctx, "p-0009.1", 1, evening),
	} {
		if err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%v\n want %s", err, says)
		}
	}
	for says, step := range map[string]int{"is done already": 2, "puts no coat on": 1, "has no step 7": 7} {
		if _, err := j.ApplyCoat(ctx, Application{Part: "p-0001.1", Product: "f-0001", Applied: evening.Add(time.Hour), Step: step}, evening.Add(time.Hour)); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%v\n want %s", err, says)
		}
	}
}

func TestSchedulesThatAreRefused(t *testing.T) {
	j := scheduled(t)
	ctx := t.Context()
	apply(t, j, "p-0001.1", evening)
	gated := steps()
	gated[0].Waits = []schedule.Wait{{Part: 2, Step: 3}}
	if err := j.SetSchedule(ctx, "p-0001.1", "", gated, evening); err != nil {
		t.Fatal(err)
	}
	circle := steps()
	circle[2].Waits = []schedule.Wait{{Part: 1, Step: 2}}
	err := j.SetSchedule(ctx, "p-0001.2", "", circle, evening)
	if !asked(err) || !strings.Contains(err.Error(), "in a circle: ") || !strings.Contains(err.Error(), "drawer fronts, step 3 (second)") || !strings.Contains(err.Error(), "top, step 1") {
		t.Errorf("a circle over two parts: %v", err)
	}
	for says, bad := range map[string][]schedule.Step{
		"leaves out step 2 (first), which is done": steps()[:1],
		"no product has the id \"f-0009\"":         append(steps(), schedule.Step{Kind: schedule.Topcoat, Product: "f-0009"}),
		"holds the invisible character":            append(steps(), schedule.Step{Kind: schedule.Other, Words: "seal\u202e"}),
		"step 3 (second): it waits for step 9 of":  append(numbered()[:2], schedule.Step{ID: 3, Kind: schedule.Colour, Words: "second", Waits: []schedule.Wait{{Step: 9}}}),
		"61 steps": append(numbered(), make([]schedule.Step, 58)...),
	} {
		if err := j.SetSchedule(ctx, "p-0001.1", "", bad, evening); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%v\n want %s", err, says)
		}
	}
	if err := j.SetSchedule(ctx, "p-0001.7", "", steps(), evening); !errors.Is(err, ErrNotFound) {
		t.Error(err)
	}
	parts, err := j.Schedules(ctx, "p-0001")
	if err != nil || len(parts[1].Steps[2].Waits) != 1 || parts[1].Steps[2].Waits[0].Part != 0 {
		t.Errorf("what was refused has changed something: %+v, %v", parts[1].Steps, err)
	}
	if _, err := j.Schedules(ctx, "p-0009"); !errors.Is(err, ErrNotFound) {
		t.Error(err)
	}
}

func TestAScheduleThatWasReplacedComesBack(t *testing.T) {
	j := scheduled(t)
	ctx := t.Context()
	if err := j.SetSchedule(ctx, "p-0001.1", "", []schedule.Step{{Kind: schedule.Other, Words: "wax"}}, evening); err != nil {
		t.Fatal(err)
	}
	history, err := j.ChangesOf(ctx, "p-0001.1")
	if err != nil || len(history) != 2 {
		t.Fatal(history, err)
	}
	if err := j.UndoEdit(ctx, history[0].Seq, evening); !asked(err) || !strings.Contains(err.Error(), "set the schedule again") {
		t.Errorf("not the newest: %v", err)
	}
	if err := j.UndoEdit(ctx, history[1].Seq, evening); err != nil {
		t.Fatal(err)
	}
	parts, err := j.Schedules(ctx, "p-0001")
	if err != nil || len(parts[0].Steps) != 3 || parts[0].Steps[2].Words != "second" {
		t.Errorf("%+v, %v", parts[0].Steps, err)
	}
}

// A piece like an earlier one has its parts and schedules, and nothing done.
func TestDuplicate(t *testing.T) {
	j := scheduled(t)
	apply(t, j, "p-0001.1", evening)
	p, err := j.DuplicatePiece(t.Context(), "p-0001", "Second dresser", evening)
	if err != nil || p.ID != "p-0002" || len(p.Parts) != 2 || p.Parts[0].Material != "oak" || p.Parts[0].ThicknessMM != 22 || p.Parts[0].Probe != "" {
		t.Fatalf("%+v, %v", p, err)
	}
	parts, err := j.Schedules(t.Context(), p.ID)
	if err != nil || len(parts[0].Steps) != 3 || parts[0].At() != 0 || parts[0].Template != "own" || parts[0].ID != "p-0002.1" {
		t.Errorf("%+v, %v", parts, err)
	}
	if _, err := j.DuplicatePiece(t.Context(), "p-0009", "None", evening); !errors.Is(err, ErrNotFound) {
		t.Error(err)
	}
}
