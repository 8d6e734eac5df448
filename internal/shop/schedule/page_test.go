package schedule

import (
	"os"
	"strings"
	"testing"

	"recoat/drying"
)

// The page that a finisher writes schedules by names every kind and stage, and
// its example is one for the first of three parts.
func TestThePageOfSchedules(t *testing.T) {
	page, err := os.ReadFile("../JOURNAL.md")
	if err != nil {
		t.Fatal(err)
	}
	_, section, _ := strings.Cut(string(page), "## Finishing schedules")
	for _, k := range Kinds() {
		if !strings.Contains(section, "`"+string(k)+"`") {
			t.Errorf("the kind %s is not on it", k)
		}
	}
	for _, s := range drying.Stages() {
		if !strings.Contains(section, "`"+s.String()+"`") {
			t.Errorf("the stage %s is not on it", s)
		}
	}
	_, example, _ := strings.Cut(section, "```json\n")
	example, _, _ = strings.Cut(example, "```")
	steps, err := ReadSteps(strings.NewReader(example))
	if err != nil || len(steps) != 4 {
		t.Fatal(steps, err)
	}
	drawers := press()
	drawers[0].Steps = steps
	if err := Check(drawers); err != nil {
		t.Error(err)
	}
}

func FuzzReadSteps(f *testing.F) {
	f.Add(`[{"kind":"sand","grits":[150,220]},{"id":2,"kind":"colour","waits":[{"step":1,"stage":"handle","times":2}]}]`)
	f.Add(`[{"id":1,"kind":"other","words":"x","waits":[{"part":2}]}]`)
	f.Add(`[]x`)
	f.Fuzz(func(t *testing.T, text string) {
		steps, err := ReadSteps(strings.NewReader(text))
		if err != nil {
			return
		}
		parts := press()
		parts[1].Steps = steps
		if Check(parts) != nil {
			return
		}
		for range len(steps) + 1 { // each step can be come to and left behind
			next := NextSteps(parts[1:2], room{}.look, evening)
			if len(next) == 0 {
				return
			}
			parts[1].Marks[next[0].Step.ID] = Mark{Done: evening}
		}
		t.Errorf("it never ends: %s", text)
	})
}

func TestStepsThatCannotBeRead(t *testing.T) {
	for says, text := range map[string]string{
		"something follows the list": `[]{}`,
		"unknown field":              `[{"kind":"sand","colour":1}]`,
		"larger than 256 KiB":        strings.Repeat(" ", 300<<10),
		"61 steps":                   "[" + strings.Repeat(`{"kind":"sand"},`, 60) + `{"kind":"sand"}]`,
		"no stage is called":         `[{"kind":"sand","waits":[{"stage":"done"}]}]`,
		"write a list such as":       `{"kind":"sand"}`,
	} {
		if _, err := ReadSteps(strings.NewReader(text)); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%v\n want %s", err, says)
		}
	}
}
