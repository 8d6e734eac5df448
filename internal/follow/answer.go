package follow

import (
	"time"

	"recoat/drying"
	"recoat/internal/shop"
	"recoat/internal/shop/schedule"
)

// Answer is what was reckoned of a coat against what a finger found on it.
type Answer struct {
	Stage    string    `json:"stage"`   // what the finding is held against
	Verdict  string    `json:"verdict"` // "as-reckoned", "sooner", "later" or "not-reckoned"
	Likely   time.Time `json:"likely,omitzero"`
	Low      time.Time `json:"low,omitzero"`
	High     time.Time `json:"high,omitzero"`
	ByLabel  bool      `json:"by_label"` // the room was not measured
	Sentence string    `json:"sentence"`
}

// NewAnswer holds what was found at an instant against how far the coat was
// then: wet against set-to-touch, tacky and dry against tack-free. What is
// inside the interval is as reckoned.
func NewAnswer(c schedule.Coat, feel shop.Feel, at time.Time) Answer {
	stage := drying.TackFree
	if feel == shop.Wet {
		stage = drying.SetToTouch
	}
	a := Answer{Stage: stage.String(), Verdict: "not-reckoned", ByLabel: c.ByLabel, Sentence: "No time was reckoned for this; touch decides."}
	for _, e := range c.Estimates {
		if e.Stage == stage && !e.Likely.IsZero() {
			a.Likely, a.Low, a.High = e.Likely, e.Low, e.High
			a.judge(feel, at)
		}
	}
	return a
}

func (a *Answer) judge(feel shop.Feel, at time.Time) {
	clock := a.Likely.Local().Format("2006-01-02 15:04")
	switch dry := feel == shop.Dry; {
	case dry && at.Before(a.Low):
		a.Verdict, a.Sentence = "sooner", "Sooner than reckoned: "+a.Stage+" was expected at about "+clock+". The times move up."
	case !dry && at.After(a.High):
		a.Verdict, a.Sentence = "later", "Later than reckoned: "+a.Stage+" was expected at about "+clock+". The times move back."
	default:
		a.Verdict, a.Sentence = "as-reckoned", "As reckoned: "+a.Stage+" at about "+clock+"."
	}
	if a.ByLabel {
		a.Sentence += " By the label alone: the room was not measured, so this teaches nothing."
	}
}
