package schedule

import (
	"errors"
	"strings"
	"testing"
	"time"

	"recoat/drying"
)

var evening = time.Date(2026, 3, 1, 21, 30, 0, 0, time.UTC)

// press is a press with a carcass, painted, and two drawers, of which the
// carcass's last step waits for both to be at handle.
func press() []Part {
	drawer := func(n int, name string) Part {
		return Part{Number: n, ID: "p-0001." + string(rune('0'+n)), Name: name, Marks: map[int]Mark{}, Steps: []Step{
			{ID: 1, Kind: Sand, Grits: []int{150, 220}},
			{ID: 2, Kind: Colour, Waits: nil},
			{ID: 3, Kind: Topcoat, Waits: []Wait{{Step: 2, Stage: At(drying.DryToRecoat)}}},
		}}
	}
	carcass := Part{Number: 1, ID: "p-0001.1", Name: "carcass", Marks: map[int]Mark{}, Steps: []Step{
		{ID: 1, Kind: Colour},
		{ID: 2, Kind: Reassemble, Words: "drawers go back", Waits: []Wait{
			{Part: 2, Stage: At(drying.Handle)}, {Part: 3, Stage: At(drying.Handle)},
		}},
	}}
	return []Part{carcass, drawer(2, "upper drawer"), drawer(3, "lower drawer")}
}

// room is what a room says of coats, by id: the hours from evening at which
// each stage is likely, half an hour less at least and an hour more at most.
type room map[string]map[drying.Stage]float64

func (r room) look(coat string) (Coat, bool) {
	stages, ok := r[coat]
	if !ok {
		return Coat{}, false
	}
	c := Coat{Applied: evening}
	for s, hours := range stages {
		at := evening.Add(time.Duration(hours * float64(time.Hour)))
		c.Estimates = append(c.Estimates, drying.Estimate{Stage: s, Likely: at, Low: at.Add(-30 * time.Minute), High: at.Add(time.Hour)})
	}
	return c, true
}

func TestAStepWaitsForAStageNotForAClock(t *testing.T) {
	parts := press()
	if err := Check(parts); err != nil {
		t.Fatal(err)
	}
	nothing := room{}
	first := NextSteps(parts, nothing.look, evening)
	if len(first) != 3 || first[1].Title != "sand at 150, then 220" || !first[1].Ready || len(first[1].Waits) != 0 || first[1].Place != 1 || first[1].Of != 3 {
		t.Fatalf("%+v", first)
	}
	parts[1].Marks[2] = Mark{Done: evening, Coat: "c-0001"} // the sanding before it counts as passed
	r := room{"c-0001": {drying.DryToRecoat: 2}}
	n := NextSteps(parts, r.look, evening.Add(time.Hour))[1]
	if n.Ready || !n.Known || !n.Likely.Equal(evening.Add(2*time.Hour)) || !n.Low.Equal(evening.Add(90*time.Minute)) || !n.High.Equal(evening.Add(3*time.Hour)) {
		t.Errorf("before the stage: %+v", n)
	}
	if len(n.Waits) != 1 || n.Waits[0].Text != "upper drawer: “colour” is not at dry-to-recoat yet" || n.Waits[0].Coat != "c-0001" {
		t.Errorf("it says: %+v", n.Waits)
	}
	if n := NextSteps(parts, r.look, evening.Add(2*time.Hour))[1]; !n.Ready || len(n.Waits) != 0 {
		t.Errorf("at the stage: %+v", n)
	}
	stuck := func(string) (Coat, bool) {
		return Coat{Applied: evening, Estimates: []drying.Estimate{{Stage: drying.DryToRecoat, Blocked: []drying.Reason{{Text: "too cold"}}}}}, true
	}
	if n := NextSteps(parts, stuck, evening.Add(9*time.Hour))[1]; n.Ready || n.Known || !strings.HasSuffix(n.Waits[0].Text, "stands still: too cold") {
		t.Errorf("standing still: %+v", n)
	}
	byLabel := func(string) (Coat, bool) {
		c, _ := r.look("c-0001")
		c.ByLabel, c.Estimates[0].Blocked = true, []drying.Reason{{Text: "no readings"}}
		return c, true
	}
	if n := NextSteps(parts, byLabel, evening)[1]; n.Waits[0].Text != "upper drawer: “colour” is not at dry-to-recoat yet, by the label alone: the room was not measured" {
		t.Errorf("by the label: %+v", n.Waits)
	}
	parts[1].Marks[3] = Mark{Skipped: evening}
	if left := NextSteps(parts, r.look, evening); len(left) != 2 {
		t.Errorf("a finished part has a next step: %+v", left)
	}
	delete(parts[1].Marks, 3)
	delete(parts[1].Marks, 2) // the coat was undone
	if n := NextSteps(parts, r.look, evening)[1]; n.Step.ID != 1 {
		t.Errorf("after undoing: %+v", n)
	}
}

// "Drawers go back only when both are at handle."
func TestAGateAcrossParts(t *testing.T) {
	parts := press()
	parts[0].Marks[1] = Mark{Done: evening, Coat: "c-0001"}
	r := room{"c-0001": {drying.Handle: 1}}
	n := NextSteps(parts, r.look, evening)[0]
	if n.Ready || n.Known || len(n.Waits) != 2 || n.Waits[0].Text != "upper drawer: “topcoat” is not done yet" || n.Waits[0].Stage != "handle" {
		t.Fatalf("before any: %+v", n)
	}
	parts[1].Marks[3] = Mark{Done: evening, Coat: "c-0002"}
	parts[2].Marks[3] = Mark{Done: evening, Coat: "c-0003"}
	r["c-0002"], r["c-0003"] = map[drying.Stage]float64{drying.Handle: 12}, map[drying.Stage]float64{drying.Handle: 14}
	n = NextSteps(parts, r.look, evening.Add(13*time.Hour))[0]
	if n.Ready || !n.Known || len(n.Waits) != 1 || n.Waits[0].Part != "p-0001.3" || !n.Likely.Equal(evening.Add(14*time.Hour)) {
		t.Errorf("one of both: %+v", n)
	}
	if n = NextSteps(parts, r.look, evening.Add(14*time.Hour))[0]; !n.Ready {
		t.Errorf("both: %+v", n)
	}
}

func TestLongerWaits(t *testing.T) {
	part := Part{Number: 1, Name: "top", Marks: map[int]Mark{1: {Done: evening, Coat: "c-0001"}}, Steps: []Step{
		{ID: 1, Kind: Stain},
		{ID: 2, Kind: Seal, Waits: []Wait{{Step: 1, Stage: At(drying.DryToRecoat), Times: 3, LeastMin: 600, Until: "it smells of nothing"}}},
	}}
	at := func(hours float64) Next {
		r := room{"c-0001": {drying.DryToRecoat: 4}}
		return NextSteps([]Part{part}, r.look, evening.Add(time.Duration(hours*float64(time.Hour))))[0]
	}
	if n := at(5); n.Ready || !n.Likely.Equal(evening.Add(12*time.Hour)) || len(n.Waits) != 2 || n.Waits[1].Text != "until it smells of nothing" || !n.Waits[1].Touch {
		t.Errorf("three times: %+v", n)
	}
	if n := at(12); !n.Ready || len(n.Waits) != 1 || !n.Waits[0].Touch {
		t.Errorf("what only a nose can tell stays: %+v", n)
	}
	part.Steps[1].Waits[0].Times = 1
	if n := at(5); n.Ready || !n.Likely.Equal(evening.Add(10*time.Hour)) {
		t.Errorf("at least ten hours: %+v", n)
	}
}

func TestTheWindowOfTheCoatBelow(t *testing.T) {
	parts := press()[1:2]
	parts[0].Marks[2] = Mark{Done: evening, Coat: "c-0001"}
	look := func(string) (Coat, bool) {
		return Coat{Applied: evening, RecoatBy: evening.Add(72 * time.Hour), Estimates: []drying.Estimate{{Stage: drying.DryToRecoat, Likely: evening}}}, true
	}
	if n := NextSteps(parts, look, evening.Add(time.Hour))[0]; n.Late || !n.RecoatBy.Equal(evening.Add(72*time.Hour)) {
		t.Errorf("inside: %+v", n)
	}
	if n := NextSteps(parts, look, evening.Add(73*time.Hour))[0]; !n.Late {
		t.Errorf("past it: %+v", n)
	}
}

func TestACircleIsRefusedByName(t *testing.T) {
	parts := press()
	parts[1].Steps[1].Waits = []Wait{{Part: 1, Step: 2}}
	err := Check(parts)
	if !errors.Is(err, ErrCircle) {
		t.Fatal(err)
	}
	for _, want := range []string{"carcass, step 2 (drawers go back)", "upper drawer, step 3 (topcoat)", "upper drawer, step 2 (colour)", " waits for "} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("no %q in: %v", want, err)
		}
	}
	own := press()
	own[1].Steps[0].Waits = []Wait{{Step: 3}}
	if err := Check(own); !errors.Is(err, ErrCircle) {
		t.Errorf("a step that waits for a later one of its own part: %v", err)
	}
}

func TestCheckRefuses(t *testing.T) {
	for says, change := range map[string]func(*Part){
		"part 9: the piece has no such part":                           func(p *Part) { p.Steps[2].Waits = []Wait{{Part: 9, Step: 1}} },
		"step 9 of upper drawer: there is no such":                     func(p *Part) { p.Steps[2].Waits[0].Step = 9 },
		"(sand at 150, then 220) is at handle: that step puts no coat": func(p *Part) { p.Steps[2].Waits = []Wait{{Step: 1, Stage: At(drying.Handle)}} },
		"the last coat of its own part":                                func(p *Part) { p.Steps[2].Waits[0].Step = 0 },
		"two steps have the id 1":                                      func(p *Part) { p.Steps[1].ID = 1 },
		"of the kind \"pray\"":                                         func(p *Part) { p.Steps[1].Kind = "pray" },
		"has no words":                                                 func(p *Part) { p.Steps[1].Kind = Other },
		"201 characters":                                               func(p *Part) { p.Steps[1].Words = strings.Repeat("é", 201) },
		"only sanding has":                                             func(p *Part) { p.Steps[1].Grits = []int{80} },
		"sands at 5":                                                   func(p *Part) { p.Steps[0].Grits = []int{5} },
		"only a coat does":                                             func(p *Part) { p.Steps[0].Product = "f-0001" },
		"there is no such stage":                                       func(p *Part) { p.Steps[2].Waits[0].Stage = At(9) },
		"-1 times as long":                                             func(p *Part) { p.Steps[2].Waits[0].Times = -1 },
		"as long as no stage":                                          func(p *Part) { p.Steps[2].Waits[0] = Wait{Step: 2, Times: 2} },
		"-5 minutes":                                                   func(p *Part) { p.Steps[2].Waits[0].LeastMin = -5 },
		"61 steps":                                                     func(p *Part) { p.Steps = make([]Step, 61) },
		"numbers begin at 1":                                           func(p *Part) { p.Steps[2].Waits[0].Part = -1 },
	} {
		parts := press()
		change(&parts[1])
		if err := Check(parts); err == nil || !strings.Contains(err.Error(), says) || !strings.Contains(err.Error(), "upper drawer") {
			t.Errorf("%v\n want %s", err, says)
		}
	}
}

// Every template can be set as it is, says that it has no source, and ends.
func TestTemplates(t *testing.T) {
	seen := map[string]bool{}
	for _, template := range Templates() {
		part := Part{Number: 1, Name: template.Name, Steps: template.Steps}
		if err := Check([]Part{part}); err != nil {
			t.Errorf("%s: %v", template.ID, err)
		}
		if template.Source != "common practice, no source" || template.Name == "" || template.For == "" || seen[template.ID] {
			t.Errorf("%+v", template)
		}
		seen[template.ID] = true
		coats, waits := 0, 0
		for _, s := range template.Steps {
			if s.Kind.Coats() {
				coats++
			}
			waits += len(s.Waits)
		}
		if coats < 2 || waits < coats-1 {
			t.Errorf("%s: %d coats, %d waits", template.ID, coats, waits)
		}
		if found, ok := FindTemplate(template.ID); !ok || found.Name != template.Name {
			t.Errorf("%s is not found", template.ID)
		}
	}
	if _, ok := FindTemplate("gilded"); ok {
		t.Error("one that is not there was found")
	}
}
