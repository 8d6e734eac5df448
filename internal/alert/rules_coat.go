package alert

import (
	"math"
	"strings"
	"time"

	"recoat/drying"
	"recoat/sensors"
)

// Where the rules about a coat set and clear, and for how long. Clear lies
// beyond what a sensor's noise spans (0.3 K). The shares and times are common
// practice, no source.
const (
	recoatNotice = 4 * time.Hour
	recoatClear  = 5 * time.Hour

	kelvinsToClear = 0.5
	filmColdClear  = 1.0 // K above the film's own limit

	stalledPace      = 0.05
	stalledClearPace = 0.15
	stalledHold      = 30 * time.Minute

	slippedShare      = 0.2 // of the time first told
	slippedClearShare = 0.1
	slippedLeast      = 30 * time.Minute
	slippedHold       = 30 * time.Minute

	forecastChance      = 0.5
	forecastClearChance = 0.3
	forecastHold        = 15 * time.Minute
)

// OfCoat names a coat and where it dries.
type OfCoat struct {
	Room string // identifier
	Coat string // identifier
	Film Film
}

func (c OfCoat) finding(rule string, condition Tri, severity Severity) Finding {
	return Finding{Key: Key{Rule: rule, Room: c.Room, Subject: c.Coat}, Condition: condition, Severity: severity}
}

func (c OfCoat) title(format string) string { return filmTitle(format, []Film{c.Film}) }

// RecoatByFacts are what RecoatBy needs. Times are shown in their own location.
type RecoatByFacts struct {
	OfCoat
	Ready   bool      // to recoat
	By, Now time.Time // By is zero where the label has no such limit
}

// RecoatBy says that the label's time to recoat ends within four hours, or has
// ended. The caller retires it once the next coat is on.
func RecoatBy(f RecoatByFacts) Finding {
	if f.By.IsZero() {
		return f.finding(ruleRecoatBy, False, Warning)
	}
	left := f.By.Sub(f.Now)
	thresholds := band{set: recoatNotice.Hours(), clear: recoatClear.Hours()}
	finding := f.finding(ruleRecoatBy, thresholds.judge(left.Hours()), Warning)
	if finding.Condition == False {
		return finding
	}
	var b lines
	if left > 0 {
		finding.Title = f.title(titleRecoatBy)
		b.add(bodyClosesIn, clock(f.By, f.Now), span(left))
	} else {
		finding.Title = f.title(titleTooLate)
		b.add(bodyClosed, clock(f.By, f.Now))
	}
	if !f.Ready {
		b.add(bodyNotReady)
	}
	finding.Body = b.String()
	return finding
}

// FilmColdFacts are what FilmCold needs.
type FilmColdFacts struct {
	OfCoat
	Surface    sensors.Celsius // not a number: not known
	FormsAbove sensors.Celsius // of the product
}

// FilmCold says that an open film is too cold to form.
func FilmCold(f FilmColdFacts) Finding {
	limit := float64(f.FormsAbove)
	finding := f.finding(ruleFilmCold, band{set: limit, clear: limit + filmColdClear}.judge(float64(f.Surface)), Critical)
	finding.Hold, finding.Clear = unfitHold, unfitClear
	var b lines
	b.add(bodyFilmCold, f.Surface, f.FormsAbove)
	finding.Title = f.title(titleFilmWarm)
	if finding.Condition != False {
		finding.Title = f.title(titleFilmCold)
		b.add(bodyHeat)
	}
	finding.Body = b.String()
	return finding
}

// CondensationFacts are what Condensation needs.
type CondensationFacts struct {
	OfCoat
	Surface, DewPoint sensors.Celsius // not a number: not known
	Uncertainty       sensors.Kelvins // of their difference
	Least             sensors.Kelvins // the product's least dew margin
}

// Condensation says that the dew margin of this piece is too small. It is
// Critical where, within what is uncertain, there is none left.
func Condensation(f CondensationFacts) Finding {
	margin, least := float64(f.Surface-f.DewPoint), float64(f.Least)
	finding := f.finding(ruleCondensation, band{set: least, clear: least + kelvinsToClear}.judge(margin), Warning)
	if margin <= float64(f.Uncertainty) {
		finding.Severity = Critical
	}
	finding.Hold, finding.Clear = unfitHold, unfitClear
	var b lines
	b.add(bodyDew, f.Surface, f.DewPoint, margin, f.Uncertainty, f.Least)
	finding.Title = f.title(titleDewOver)
	if finding.Condition != False {
		finding.Title = f.title(titleDew)
		b.add(bodyHeat)
	}
	finding.Body = b.String()
	return finding
}

// BlushFacts are what Blush needs.
type BlushFacts struct {
	OfCoat
	Margin sensors.Kelvins // of the air above its dew point; not a number: not known
	Least  sensors.Kelvins // below which the product may blush
}

// Blush says that water may cloud a film while solvent leaves it.
func Blush(f BlushFacts) Finding {
	least := float64(f.Least)
	finding := f.finding(ruleBlush, band{set: least, clear: least + kelvinsToClear}.judge(float64(f.Margin)), Warning)
	finding.Hold, finding.Clear = unfitHold, unfitClear
	var b lines
	b.add(bodyBlush, f.Margin, f.Least)
	finding.Title, finding.Body = f.title(titleBlush), b.String()
	if finding.Condition == False {
		finding.Title = f.title(titleBlushOver)
	}
	return finding
}

// StalledFacts are what Stalled needs. Times are shown in their own location.
type StalledFacts struct {
	OfCoat
	Pace       float64 // not a number: not known
	Since, Now time.Time
	Blocked    []drying.Reason // why, where that is known
}

// Stalled says that a coat has all but stopped drying.
func Stalled(f StalledFacts) Finding {
	finding := f.finding(ruleStalled, band{set: stalledPace, clear: stalledClearPace}.judge(f.Pace), Warning)
	finding.Hold, finding.Clear = stalledHold, stalledHold
	var b lines
	if finding.Condition == False {
		b.add(bodyPace, f.Pace)
		finding.Title, finding.Body = f.title(titleDries), b.String()
		return finding
	}
	b.add(bodyStalled, f.Pace, clock(f.Since, f.Now))
	b.add("%s", reasonLines(drying.Verdict{Reasons: f.Blocked}))
	finding.Title, finding.Body = f.title(titleStalled), b.String()
	return finding
}

// SlippedFacts are what Slipped needs. Times are shown in their own location.
type SlippedFacts struct {
	OfCoat
	Stage    drying.Stage
	Applied  time.Time
	Promised time.Time // the ready time first told
	Likely   time.Time // the ready time now; zero: not known
	Now      time.Time
}

// Slipped says that a ready time has moved by a fifth of the time first told
// and by half an hour at least.
func Slipped(f SlippedFacts) Finding {
	late, told := f.Likely.Sub(f.Promised), f.Promised.Sub(f.Applied)
	share := math.NaN()
	if !f.Likely.IsZero() && told > 0 {
		share = late.Hours() / told.Hours()
	}
	finding := f.finding(ruleSlipped, band{set: slippedShare, clear: slippedClearShare}.judge(share), Info)
	finding.Key.Subject += "/" + f.Stage.String()
	finding.Hold, finding.Clear = slippedHold, slippedHold
	if finding.Condition == True && late < slippedLeast {
		finding.Condition = False
	}
	switch finding.Condition {
	case Unknown:
		return finding
	case False:
		finding.Title = f.title(titleOnTime)
		return finding
	}
	var b lines
	b.add(bodySlipped, capital(f.Stage.String()), clock(f.Likely, f.Now), clock(f.Promised, f.Now), span(late))
	finding.Title, finding.Body = f.title(titleSlipped), b.String()
	return finding
}

// ForecastFacts are what WillBeUnfit needs. Times are shown in their own
// location.
type ForecastFacts struct {
	Room   string        // identifier
	Title  string        // the finisher's name for the room
	Open   []Film        // coats the room can still harm
	Chance float64       // that the room becomes unfit before Closed, 0 to 1; not a number: no forecast
	At     time.Time     // when it likely does
	Closed time.Time     // when the last open film likely closes
	Reason drying.Reason // of the verdict expected
	Now    time.Time
}

// WillBeUnfit says that the room will likely turn unfit while a film is open.
func WillBeUnfit(f ForecastFacts) Finding {
	finding := Finding{
		Key: Key{Rule: ruleForecast, Room: f.Room}, Severity: Warning, Hold: forecastHold, Clear: forecastHold,
		Condition: band{set: forecastChance, clear: forecastClearChance}.judge(f.Chance),
	}
	if len(f.Open) == 0 { // closed in time: no news
		finding.Condition = False
		return finding
	}
	if finding.Condition != Unknown && !f.At.Before(f.Closed) {
		finding.Condition = False
	}
	if finding.Condition == False {
		finding.Title = fill(titleStays, f.Title)
		return finding
	}
	trouble := troubleOf(f.Reason.Code)
	var b lines
	b.add(bodyForecast, clock(f.At, f.Now), 100*f.Chance, clock(f.Closed, f.Now))
	if f.Reason.Text != "" {
		b.add("%s", sentence(f.Reason.Text))
	}
	if trouble.heat {
		b.add(bodyHeat)
	}
	title := strings.NewReplacer("{what}", small(trouble.what), "{do}", trouble.do).Replace(titleSoon)
	finding.Title, finding.Body = filmTitle(title, f.Open), b.String()
	return finding
}

// FitAgainFacts are what FitAgain needs.
type FitAgainFacts struct {
	Room    string // identifier
	Title   string // the finisher's name for the room
	Asked   string // identifies the wish to be told
	Verdict drying.Verdict
}

// FitAgain says, once for each wish to be told, that a room is fit to coat.
func FitAgain(f FitAgainFacts) Finding {
	finding := Finding{
		Key: Key{Rule: ruleFitAgain, Room: f.Room, Subject: f.Asked}, Severity: Info, Hold: unfitClear, Once: true, Wish: f.Asked,
		Condition: Truth(f.Verdict.State == drying.Fit),
	}
	if f.Verdict.State == drying.Unknown {
		finding.Condition = Unknown
	}
	if finding.Condition == True {
		finding.Title, finding.Body = fill(titleFitAgain, f.Title), reasonLines(f.Verdict)
	}
	return finding
}
