package alert

import (
	"fmt"
	"math"
	"strconv"
	"time"
)

// Where the rules about the hub and its nodes set and clear, and for how long.
// Common practice, no source.
const (
	clockHold = 10 * time.Minute

	supplyClearShare = 1.03 // of the least voltage
	supplyHold       = 2 * time.Minute
	supplyClear      = 10 * time.Minute

	storeHold  = 2 * time.Minute
	storeClear = 5 * time.Minute

	diskFree      = 0.05
	diskClearFree = 0.08
	diskCritical  = 0.01

	channelHold = 10 * time.Minute

	selfTestLasts = 12 * time.Hour
	allWellLasts  = 2 * time.Hour
)

// OfNode names a node and the room it stands in.
type OfNode struct {
	Room  string // identifier
	Title string // the finisher's name for the room
	Node  string
}

func (n OfNode) finding(rule string, condition Tri) Finding {
	return Finding{Key: Key{Rule: rule, Room: n.Room, Subject: n.Node}, Condition: condition, Severity: Warning}
}

// ClockFacts are what ClockNotSet needs.
type ClockFacts struct {
	OfNode
	Set Tri // whether the node says that its clock is set
}

// ClockNotSet says that a node does not know the time.
func ClockNotSet(f ClockFacts) Finding {
	finding := f.finding(ruleClock, Unknown)
	finding.Hold = clockHold
	switch f.Set {
	case True:
		finding.Condition, finding.Title = False, fill(titleClockSet, f.Node, f.Title)
	case False:
		finding.Condition, finding.Title, finding.Body = True, fill(titleClock, f.Node, f.Title), bodyClock
	}
	return finding
}

// SupplyFacts are what SupplyLow needs.
type SupplyFacts struct {
	OfNode
	Volts float64 // not a number: not known
	Least float64 // what the node needs, in volts
	Alarm Tri     // the machine's own word, where it has no volts to tell
}

// SupplyLow says that a node's supply is below what it needs. Volts outweigh the
// machine's own alarm, which does not say by how much.
func SupplyLow(f SupplyFacts) Finding {
	low := f.Alarm
	if !math.IsNaN(f.Volts) {
		low = band{set: f.Least, clear: f.Least * supplyClearShare}.judge(f.Volts)
	}
	finding := f.finding(ruleSupply, low)
	finding.Hold, finding.Clear = supplyHold, supplyClear
	if finding.Condition == False {
		finding.Title = fill(titleSupplyOK, f.Node, f.Title)
		return finding
	}
	var b lines
	if math.IsNaN(f.Volts) {
		b.add(bodySupplyAlarm)
	} else {
		b.add(bodySupply, f.Volts, f.Least)
	}
	finding.Title, finding.Body = fill(titleSupply, f.Node, f.Title), b.String()
	return finding
}

// NamesakeFacts are what Namesake needs.
type NamesakeFacts struct {
	OfNode
	Two Tri // whether two machines speak under the node's name
}

// Namesake says that two machines have the name of one node.
func Namesake(f NamesakeFacts) Finding {
	finding := f.finding(ruleNames, f.Two)
	switch f.Two {
	case True:
		finding.Title, finding.Body = fill(titleNames, f.Node, f.Title), bodyNames
	case False:
		finding.Title = fill(titleNamesOver, f.Node, f.Title)
	}
	return finding
}

// StoreFacts are what StoreFailing needs. Times are shown in their own
// location.
type StoreFacts struct {
	Room       string // identifier of the room it is told in
	Failing    bool
	Since, Now time.Time
	Why        string // without secrets
}

// StoreFailing says that readings are not being stored.
func StoreFailing(f StoreFacts) Finding {
	finding := Finding{Key: Key{Rule: ruleStore, Room: f.Room}, Condition: Truth(f.Failing), Severity: Warning, Hold: storeHold, Clear: storeClear}
	if !f.Failing {
		finding.Title = titleStored
		return finding
	}
	var b lines
	b.add(bodyStore, clock(f.Since, f.Now), sentence(Redact(f.Why)))
	b.add(bodyStoreSpool)
	finding.Title, finding.Body = titleStore, b.String()
	return finding
}

// DiskFacts are what DiskNearlyFull needs.
type DiskFacts struct {
	Room       string // identifier of the room it is told in
	Free, Size uint64 // bytes; a size of 0: not known
}

// DiskNearlyFull says that the hub's disk has a twentieth left; at a hundredth
// it is Critical.
func DiskNearlyFull(f DiskFacts) Finding {
	free := math.NaN()
	if f.Size > 0 {
		free = float64(f.Free) / float64(f.Size)
	}
	finding := Finding{Key: Key{Rule: ruleDisk, Room: f.Room}, Severity: Warning,
		Condition: band{set: diskFree, clear: diskClearFree}.judge(free)}
	if finding.Condition == Unknown {
		return finding
	}
	if free <= diskCritical {
		finding.Severity = Critical
	}
	var title, body lines
	if finding.Condition == False {
		title.add(titleDiskOK, 100*free)
	} else {
		title.add(titleDisk, 100*free)
		body.add(bodyDisk, float64(f.Free)/1e9, float64(f.Size)/1e9)
	}
	finding.Title, finding.Body = title.String(), body.String()
	return finding
}

// ChannelFacts are what ChannelFailing needs; Outbox.Troubles has them. Times
// are shown in their own location.
type ChannelFacts struct {
	Room       string // identifier of the room it is told in
	Channel    string
	Failing    bool
	Since, Now time.Time
	Why        string // without secrets
}

// ChannelFailing says, on the channels that work, that one does not.
func ChannelFailing(f ChannelFacts) Finding {
	finding := Finding{Key: Key{Rule: ruleChannel, Room: f.Room, Subject: f.Channel}, Condition: Truth(f.Failing), Severity: Warning, Hold: channelHold}
	if !f.Failing {
		finding.Title = fill(titleChannelOK, f.Channel)
		return finding
	}
	var b lines
	b.add(bodyChannel, clock(f.Since, f.Now), sentence(Redact(f.Why)))
	finding.Title, finding.Body = fill(titleChannel, f.Channel), b.String()
	return finding
}

// SelfTestFacts are what SelfTest needs. Times are shown in their own location.
type SelfTestFacts struct {
	Room         string    // identifier of the room it is told in
	Due          time.Time // as LastWeekly gives it
	Now          time.Time
	Heard, Nodes uint32
	Drying       uint32 // coats followed
}

// SelfTest is a message of every week by which a silent hub is noticed. One
// missed by more than twelve hours is left out.
func SelfTest(f SelfTestFacts) Finding {
	finding := Finding{Key: Key{Rule: ruleSelfTest, Room: f.Room, Subject: strconv.FormatInt(f.Due.Unix(), 10)}, Severity: Info, Once: true}
	if late := f.Now.Sub(f.Due); late < 0 || late > selfTestLasts {
		return finding
	}
	var b lines
	b.add(bodySelfTest, f.Heard, f.Nodes, coatsDrying(f.Drying), clock(f.Due.AddDate(0, 0, 7), f.Due))
	finding.Condition, finding.Title, finding.Body = True, titleSelfTest, b.String()
	return finding
}

func coatsDrying(n uint32) string {
	if n == 1 {
		return oneCoat
	}
	return fmt.Sprintf(manyCoats, n)
}

// AllWellFacts are what AllWell needs. Times are shown in their own location.
type AllWellFacts struct {
	Room         string    // identifier of the room it is told in
	Due          time.Time // as LastDaily gives it
	Now          time.Time
	Heard, Nodes uint32
	Drying       uint32 // coats followed
	Standing     uint32 // alerts that are not over
}

// AllWell is a message of every day: its absence says that the hub is silent.
// One missed by more than two hours is left out.
func AllWell(f AllWellFacts) Finding {
	finding := Finding{Key: Key{Rule: ruleAllWell, Room: f.Room, Subject: strconv.FormatInt(f.Due.Unix(), 10)}, Severity: Info, Once: true}
	if late := f.Now.Sub(f.Due); late < 0 || late > allWellLasts {
		return finding
	}
	var b, title lines
	switch f.Standing {
	case 0:
		title.add(titleAllWell, f.Heard, f.Nodes, coatsDrying(f.Drying))
	case 1:
		title.add(oneStands)
	default:
		title.add(titleNotAllWell, f.Standing)
	}
	if f.Standing > 0 {
		b.add(bodySeeAlerts)
	}
	b.add(bodyAllWell, clock(f.Due.AddDate(0, 0, 1), f.Due))
	finding.Condition, finding.Title, finding.Body = True, clip(title.String(), maxTitle), b.String()
	return finding
}

// LastDaily returns the last time at which the clocks of a zone showed at, from
// midnight.
func LastDaily(now time.Time, at time.Duration, zone *time.Location) time.Time {
	y, m, d := now.In(zone).Date()
	today := time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
	due := showing(today.Add(at), zone)
	if due.After(now) {
		due = showing(today.AddDate(0, 0, -1).Add(at), zone)
	}
	return due.In(zone)
}

// LastWeekly returns the last time at which the clocks of a zone showed at, from
// midnight, on a weekday.
func LastWeekly(now time.Time, weekday time.Weekday, at time.Duration, zone *time.Location) time.Time {
	y, m, d := now.In(zone).Date()
	today := time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
	back := (int(today.Weekday()) - int(weekday) + 7) % 7
	due := showing(today.AddDate(0, 0, -back).Add(at), zone)
	if due.After(now) {
		due = showing(today.AddDate(0, 0, -back-7).Add(at), zone)
	}
	return due.In(zone)
}
