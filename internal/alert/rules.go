package alert

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"recoat/drying"
)

// The hold times of the rules: long enough for a door that was opened, short
// enough to save a film. Common practice, no source.
const (
	unfitHold  = 5 * time.Minute
	unfitClear = 20 * time.Minute
)

// The names of the rules. They are kept in files.
const (
	ruleReady  = "ready"
	ruleUnfit  = "unfit"
	ruleSilent = "silent"
	ruleMute   = "mute"
	ruleDoubt  = "doubt"
	ruleDrift  = "drift"
	ruleCheck  = "check"
	ruleClock  = "clock"
	ruleSupply = "supply"
	ruleNames  = "namesake"
	ruleDigest = "digest"
	ruleTrial  = "test"

	ruleRecoatBy     = "recoat-by"
	ruleFilmCold     = "film-cold"
	ruleCondensation = "condensation"
	ruleBlush        = "blush"
	ruleStalled      = "stalled"
	ruleSlipped      = "slipped"
	ruleForecast     = "forecast"
	ruleFitAgain     = "fit-again"
	ruleAhead        = "ahead"
	ruleSettle       = "settle"
	ruleStore        = "store"
	ruleDisk         = "disk"
	ruleChannel      = "channel"
	ruleSelfTest     = "self-test"
	ruleAllWell      = "all-well"
)

// Film is a coat still open to harm: piece and part, as the finisher named them.
type Film struct{ Piece, Part string }

func (f Film) String() string {
	if f.Part == "" {
		return f.Piece
	}
	return f.Piece + ", " + f.Part
}

// ReadyFacts are what Ready needs. Times are shown in their own location.
type ReadyFacts struct {
	Room     string // identifier
	Coat     string // identifier
	Film     Film
	Applied  time.Time
	Estimate drying.Estimate
	RecoatBy time.Time      // zero: no such limit
	Verdict  drying.Verdict // of the room now
	Wish     string         // of whoever asked to be woken for it; empty: nobody
	// Refuted counts the touch tests that found the coat short of this stage.
	// Each of them makes the stage worth telling anew.
	Refuted uint32
}

// Ready says, once, that a coat has reached a stage.
func Ready(f ReadyFacts) Finding {
	subject := f.Coat + "/" + f.Estimate.Stage.String()
	if f.Refuted > 0 {
		subject += "/" + strconv.FormatUint(uint64(f.Refuted), 10)
	}
	finding := Finding{
		Key:       Key{Rule: ruleReady, Room: f.Room, Subject: subject},
		Condition: Truth(f.Estimate.Reached),
		Severity:  Info,
		Once:      true,
		Wish:      f.Wish,
	}
	if !f.Estimate.Reached {
		return finding
	}
	coats := f.Estimate.Stage == drying.DryToRecoat
	title := readyTitle(f.Estimate.Stage)
	var body lines
	if coats && !f.RecoatBy.IsZero() {
		body.add(bodyRecoatBy, clock(f.RecoatBy, f.Estimate.Likely))
	}
	if coats && f.Verdict.State == drying.Unfit {
		title = titleDryButNot
		body.add(bodyRoomNot, reasonLines(f.Verdict))
	}
	body.addReckoning(f.Estimate, f.Applied)
	body.add(bodyTouchRule)
	finding.Title, finding.Body = filmTitle(title, []Film{f.Film}), body.String()
	return finding
}

func readyTitle(s drying.Stage) string {
	return [drying.StageCount]string{
		drying.SetToTouch:  titleTouch,
		drying.DustFree:    titleDust,
		drying.TackFree:    titleTack,
		drying.Sandable:    titleSand,
		drying.DryToRecoat: titleRecoat,
		drying.Handle:      titleHandle,
		drying.Cured:       titleCured,
	}[s]
}

// UnfitFacts are what Unfit needs. Times are shown in their own location.
type UnfitFacts struct {
	Room    string // identifier
	Title   string // the finisher's name for the room
	Verdict drying.Verdict
	Open    []Film    // coats the room can still harm
	Now     time.Time // shows Until by weekday or by date
	Until   time.Time // when the room is likely fit again; zero: not known
}

// Unfit says that a room harms the coats that are open in it. A room without
// any is no reason to wake anybody, and one that calls for caution neither
// raises nor clears.
func Unfit(f UnfitFacts) Finding {
	finding := Finding{
		Key:   Key{Rule: ruleUnfit, Room: f.Room},
		Hold:  unfitHold,
		Clear: unfitClear,
	}
	switch {
	case f.Verdict.State == drying.Fit:
		finding.Condition = False
		finding.Title, finding.Body = fill(titleFitAgain, f.Title), reasonLines(f.Verdict)
	case len(f.Open) == 0:
		finding.Condition = False
	case f.Verdict.State == drying.Unfit:
		finding.Condition, finding.Severity = True, unfitSeverity(f.Verdict)
		finding.Title, finding.Body = unfitTexts(f)
	}
	return finding
}

// unfitSeverity is Critical where water or cold can spoil a film that warmth
// would save; that this is worth waking for is common practice, no source.
func unfitSeverity(v drying.Verdict) Severity {
	if slices.ContainsFunc(v.Reasons, func(r drying.Reason) bool {
		return (r.Code == "dew-margin" || r.Code == "film-cold") && !(r.Value >= r.Limit) // not a caution
	}) {
		return Critical
	}
	return Warning
}

func unfitTexts(f UnfitFacts) (title, body string) {
	trouble := troubleOf("")
	if len(f.Verdict.Reasons) > 0 {
		trouble = troubleOf(f.Verdict.Reasons[0].Code)
	}
	var b lines
	if f.Until.IsZero() {
		b.add(bodyNoEnd)
	} else {
		b.add(bodyUntil, clock(f.Until, f.Now))
	}
	b.add("%s", reasonLines(f.Verdict))
	if trouble.heat {
		b.add(bodyHeat)
	}
	return filmTitle(fmt.Sprintf(titleUnfit, trouble.what, "%s", trouble.do), f.Open), b.String()
}

// SilentFacts are what SensorSilent needs. Times are shown in their own
// location.
type SilentFacts struct {
	Room   string // identifier
	Title  string // the finisher's name for the room
	Node   string
	Silent bool
	Heard  time.Time // zero: not since the hub started
	Now    time.Time // shows Heard by weekday or by date
	Open   []Film    // coats whose time rests on this node
}

// SensorSilent says that a node has stopped reporting. How long is too long is
// the caller's to say.
func SensorSilent(f SilentFacts) Finding {
	finding := Finding{
		Key:       Key{Rule: ruleSilent, Room: f.Room, Subject: f.Node},
		Condition: Truth(f.Silent),
		Severity:  Info,
	}
	if !f.Silent {
		finding.Title = fill(titleHeard, f.Node, f.Title)
		return finding
	}
	var b lines
	if f.Heard.IsZero() {
		b.add(bodyNotHeard)
	} else {
		b.add(bodyHeard, clock(f.Heard, f.Now))
	}
	if len(f.Open) > 0 {
		finding.Severity = Warning
		b.add(bodyGuess, films(f.Open))
	} else {
		b.add(bodyNoWatch)
	}
	finding.Title, finding.Body = fill(titleSilent, f.Node, f.Title), b.String()
	return finding
}

// MuteFacts are what SensorMute needs. Times are shown in their own location.
type MuteFacts struct {
	Room     string // identifier
	Title    string // the finisher's name for the room
	Node     string
	Channel  string // identifier
	Measures string // for a person: "air temperature", "surface temperature, linen press top"
	Mute     Tri
	Since    time.Time // zero: it has given nothing since the hub started
	Now      time.Time // shows Since by weekday or by date
	Open     []Film    // coats whose time rests on this sensor
}

// SensorMute says that one sensor of a node that is heard gives no values. How
// long is too long is the caller's to say.
func SensorMute(f MuteFacts) Finding {
	finding := Finding{
		Key:       Key{Rule: ruleMute, Room: f.Room, Subject: f.Node + "/" + f.Channel},
		Condition: f.Mute,
		Severity:  Info,
	}
	if f.Mute == False {
		finding.Title = fill(titleSpeaks, f.Measures, f.Title)
		return finding
	}
	var b lines
	if f.Since.IsZero() {
		b.add(bodyNeverGood, f.Node)
	} else {
		b.add(bodyLastGood, clock(f.Since, f.Now), f.Node)
	}
	if len(f.Open) > 0 {
		finding.Severity = Warning
		b.add(bodyGuess, films(f.Open))
	}
	finding.Title, finding.Body = fill(titleMute, f.Measures, f.Title), b.String()
	return finding
}

// lines gathers the lines of a body.
type lines []string

func (l *lines) add(format string, args ...any) {
	if s := fmt.Sprintf(format, args...); s != "" {
		*l = append(*l, s)
	}
}

func (l lines) String() string { return strings.Join(l, "\n") }

func (l *lines) addReckoning(e drying.Estimate, applied time.Time) {
	if !e.Likely.IsZero() {
		l.add(bodyReckoned, clock(e.Likely, e.Likely), clock(e.Low, e.Likely), clock(e.High, e.Likely), span(e.Likely.Sub(applied)))
	}
	switch {
	case e.Stated <= 0:
	case e.Assumed:
		l.add(bodyNoLabel, span(e.Stated), e.Pace)
	default:
		l.add(bodyLabel, span(e.Stated), e.Pace)
	}
}
