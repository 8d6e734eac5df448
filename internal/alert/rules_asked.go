package alert

import (
	"fmt"
	"math"
	"time"

	"recoat/drying"
	"recoat/sensors"
)

// AheadFacts are what ReadyAhead needs. Times are shown in their own location.
type AheadFacts struct {
	OfCoat
	Wish     string // identifies the wish to be told
	Estimate drying.Estimate
	Ahead    time.Duration // how long before the likely time
	Now      time.Time
}

// ReadyAhead says, once for each wish to be told, when a coat will likely be
// ready.
func ReadyAhead(f AheadFacts) Finding {
	finding := f.finding(ruleAhead, Unknown, Info)
	finding.Key.Subject += "/" + f.Estimate.Stage.String() + "/" + f.Wish
	finding.Once, finding.Wish = true, f.Wish
	switch e := f.Estimate; {
	case e.Reached, !e.Likely.IsZero() && e.Likely.Sub(f.Now) > f.Ahead:
		finding.Condition = False
		return finding
	case e.Likely.IsZero():
		return finding
	}
	finding.Condition = True
	var b lines
	b.add(bodyAhead, clock(f.Estimate.Low, f.Now), clock(f.Estimate.High, f.Now))
	b.add(bodyTouchRule)
	title := fmt.Sprintf(aheadTitle(f.Estimate.Stage), f.Estimate.Likely.Format(clockPlain), "%s")
	finding.Title, finding.Body = filmTitle(title, []Film{f.Film}), b.String()
	return finding
}

func aheadTitle(s drying.Stage) string {
	switch s {
	case drying.Sandable:
		return titleAheadSand
	case drying.DryToRecoat:
		return titleAheadRecoat
	case drying.Handle:
		return titleAheadHandle
	}
	return titleAhead
}

// How far a part may be from the air of its room, and for how long, before it
// is worth telling. Common practice, no source.
const (
	settleApart = 4.0 // K
	settleClose = 1.5 // K
	settleHold  = 30 * time.Minute
)

// SettleFacts are what NotSettled needs.
type SettleFacts struct {
	Room         string // identifier
	Part         string // identifier
	Film         Film   // the part's name; nothing is on it yet
	Surface, Air sensors.Celsius
}

// NotSettled says, once for each part, that a piece brought in is not yet as
// warm as its room, and later that it is.
func NotSettled(f SettleFacts) Finding {
	apart := math.Abs(float64(f.Surface - f.Air))
	finding := Finding{
		Key: Key{Rule: ruleSettle, Room: f.Room, Subject: f.Part}, Severity: Info, Once: true,
		Hold: settleHold, Clear: settleHold, Condition: band{set: settleApart, clear: settleClose}.judge(apart),
	}
	var b lines
	b.add(bodySettle, f.Surface, f.Air)
	if finding.Condition == False {
		finding.Title, finding.Body = filmTitle(titleSettled, []Film{f.Film}), b.String()
		return finding
	}
	b.add(bodySettleDo)
	finding.Title, finding.Body = filmTitle(titleSettle, []Film{f.Film}), b.String()
	return finding
}
