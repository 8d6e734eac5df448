package alert

import (
	"math"
	"time"
)

// How long the rules about one sensor wait. Common practice, no source.
const (
	doubtHold  = 15 * time.Minute
	doubtClear = 15 * time.Minute
	checkHold  = time.Hour
	driftHold  = time.Hour
	driftClear = 0.6 // of the limit
)

// OfSensor names one channel of a node and what it measures.
type OfSensor struct {
	OfNode
	Channel  string // identifier
	Measures string // for a person: "air temperature", "surface temperature, linen press top"
	Open     []Film // coats whose time rests on this sensor
}

func (s OfSensor) finding(rule string, condition Tri) Finding {
	f := s.OfNode.finding(rule, condition)
	f.Key.Subject += "/" + s.Channel
	if len(s.Open) == 0 {
		f.Severity = Info
	}
	return f
}

// guess says which times rest on a sensor that cannot be believed.
func (s OfSensor) guess(b *lines) {
	if len(s.Open) > 0 {
		b.add(bodyDoubtGuess, films(s.Open))
	}
}

// DoubtFacts are what SensorDoubtful needs. Times are shown in their own
// location.
type DoubtFacts struct {
	OfSensor
	Doubtful   Tri // whether its values are given but not believed
	Since, Now time.Time
}

// SensorDoubtful says that a sensor gives values which cannot be right.
func SensorDoubtful(f DoubtFacts) Finding {
	finding := f.finding(ruleDoubt, f.Doubtful)
	finding.Hold, finding.Clear = doubtHold, doubtClear
	if f.Doubtful == False {
		finding.Title = fill(titleBelieved, f.Measures, f.Title)
		return finding
	}
	var b lines
	b.add(bodyDoubt, f.Node)
	if !f.Since.IsZero() {
		b.add(bodyDoubtSince, clock(f.Since, f.Now))
	}
	f.guess(&b)
	finding.Title, finding.Body = fill(titleDoubt, f.Measures, f.Title), b.String()
	return finding
}

// CheckFacts are what CheckDue needs.
type CheckFacts struct {
	OfSensor
	Due Tri // whether its check is overdue or failed
}

// CheckDue says that a sensor is due for a check, or failed its last one.
func CheckDue(f CheckFacts) Finding {
	finding := f.finding(ruleCheck, f.Due)
	finding.Hold, finding.Severity = checkHold, Info
	if f.Due == False {
		finding.Title = fill(titleChecked, f.Measures, f.Title)
		return finding
	}
	var b lines
	b.add(bodyCheck, f.Node)
	f.guess(&b)
	finding.Title, finding.Body = fill(titleCheck, f.Measures, f.Title), b.String()
	return finding
}

// DriftFacts are what Drifting needs: two sensors of one quantity in one room.
type DriftFacts struct {
	OfSensor
	Twin  string  // the other, for a person
	Moved float64 // how far the two have moved apart since they were first compared; not a number: not known
	Limit float64 // in the same unit, above 0
	Unit  string  // "%" or "K"
}

// Drifting says that two sensors that agreed once agree no longer. Neither of
// them says which is wrong.
func Drifting(f DriftFacts) Finding {
	finding := f.finding(ruleDrift, band{set: f.Limit, clear: driftClear * f.Limit}.judge(math.Abs(f.Moved)))
	finding.Hold, finding.Clear = driftHold, driftHold
	if finding.Condition == False {
		finding.Title = fill(titleAgree, f.Measures, f.Title)
		return finding
	}
	var b lines
	b.add(bodyDrift, f.Measures, f.Twin, math.Abs(f.Moved), f.Unit, f.Limit, f.Unit)
	f.guess(&b)
	finding.Title, finding.Body = fill(titleDrift, f.Measures, f.Title), b.String()
	return finding
}
