package dashboards

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"recoat/drying"
	"recoat/sensors"
)

// words puts numbers and instants as the finisher reads them: in the shop's
// local time and in the unit of the shop's labels.
type words struct {
	location   *time.Location
	fahrenheit bool
	twelve     bool // 9:40 pm, not 21:40
}

// form is a layout of time as the shop's clock shows it.
func (w words) form(layout string) string {
	if w.twelve {
		return strings.Replace(layout, "15:04", "3:04 pm", 1)
	}
	return layout
}

// number gives v with a fixed number of decimals, a true minus sign, and never
// a minus zero.
func number(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		return strings.TrimPrefix(s, "-")
	}
	return strings.Replace(s, "-", "−", 1)
}

func (w words) temperatureUnit() string {
	if w.fahrenheit {
		return "°F"
	}
	return "°C"
}

func (w words) temperatureValue(c sensors.Celsius) float64 {
	if w.fahrenheit {
		return c.Fahrenheit()
	}
	return float64(c)
}

func (w words) temperature(c sensors.Celsius) string {
	return number(w.temperatureValue(c), 1) + " " + w.temperatureUnit()
}

func (w words) differenceUnit() string {
	if w.fahrenheit {
		return "°F"
	}
	return "K"
}

func (w words) differenceValue(k sensors.Kelvins) float64 {
	if w.fahrenheit {
		return float64(k) * 9 / 5
	}
	return float64(k)
}

func (w words) difference(k sensors.Kelvins) string {
	return number(w.differenceValue(k), 1) + " " + w.differenceUnit()
}

// warmth finds a temperature or a difference of temperatures in a sentence that
// was put into words elsewhere.
var warmth = regexp.MustCompile(`([-−]?[0-9]+(?:\.[0-9]+)?) (°C|K)\b`)

// inUnits puts the temperatures of a sentence into the shop's unit.
func (w words) inUnits(text string) string {
	if !w.fahrenheit {
		return text
	}
	return warmth.ReplaceAllStringFunc(text, func(found string) string {
		m := warmth.FindStringSubmatch(found)
		v, err := strconv.ParseFloat(strings.Replace(m[1], "−", "-", 1), 64)
		if err != nil {
			return found
		}
		if m[2] == "K" {
			return w.difference(sensors.Kelvins(v))
		}
		return w.temperature(sensors.Celsius(v))
	})
}

// limit is a difference without needless decimals: "3 K".
func (w words) limit(k sensors.Kelvins) string {
	v := math.Round(w.differenceValue(k)*10) / 10
	return strings.Replace(strconv.FormatFloat(v, 'f', -1, 64), "-", "−", 1) + " " + w.differenceUnit()
}

func percent(rh sensors.RelativeHumidity) string { return number(float64(rh), 0) + " %" }

// clock is a time of day while that cannot be misread, then with the day of
// the week, then with the date.
func (w words) clock(t, now time.Time) string {
	local := t.In(w.location)
	switch d := t.Sub(now); {
	case d > -12*time.Hour && d < 18*time.Hour:
		return local.Format(w.form("15:04"))
	case d > -6*24*time.Hour && d < 6*24*time.Hour:
		return local.Format(w.form("Mon 15:04"))
	default:
		return local.Format("2 Jan 2006")
	}
}

// date is the day of something that is not tonight's.
func (w words) date(t time.Time) string { return t.In(w.location).Format("2 Jan 2006") }

// told is how exactly an estimated time is told.
const told = 5 * time.Minute

// likely is the likeliest time of an estimate, no more exact than it can be
// meant.
func (w words) likely(e drying.Estimate, now time.Time) string {
	return w.clock(e.Likely.Round(told), now)
}

// between is the span an estimate is meant to lie in, rounded outwards:
// "between 02:40 and 04:20".
func (w words) between(e drying.Estimate, now time.Time) string {
	return "between " + w.clock(e.Low.Truncate(told), now) + " and " + w.clock(e.High.Add(told-1).Truncate(told), now)
}

// age says how long ago something was, coarsely.
func age(d time.Duration) string {
	switch {
	case d < 2*time.Minute:
		return fmt.Sprintf("%d s ago", max(0, int64(d/time.Second)))
	case d < 2*time.Hour:
		return fmt.Sprintf("%d min ago", int64(d/time.Minute))
	case d < 48*time.Hour:
		return fmt.Sprintf("%d h ago", int64(d/time.Hour))
	default:
		return fmt.Sprintf("%d days ago", int64(d/(24*time.Hour)))
	}
}

// sentence gives text a capital and a full stop.
func sentence(text string) string {
	text = strings.TrimSpace(text)
	first, n := utf8.DecodeRuneInString(text)
	if n == 0 {
		return ""
	}
	text = string(unicode.ToUpper(first)) + text[n:]
	if strings.HasSuffix(text, ".") || strings.HasSuffix(text, "!") || strings.HasSuffix(text, "?") {
		return text
	}
	return text + "."
}

// clause makes a sentence fit to stand after a colon: no capital, unless the
// word is all capitals, and no full stop.
func clause(text string) string {
	text = strings.TrimSuffix(strings.TrimSpace(text), ".")
	first, n := utf8.DecodeRuneInString(text)
	second, _ := utf8.DecodeRuneInString(text[n:])
	if n == 0 || unicode.IsUpper(second) {
		return text
	}
	return string(unicode.ToLower(first)) + text[n:]
}

// stageWords say one stage: as a state, as what may now be done, and as a word
// short enough for the strip.
var stageWords = [drying.StageCount]struct{ state, may, short string }{
	drying.SetToTouch:  {"set to touch", "is set to touch", "touch"},
	drying.DustFree:    {"dust-free", "is dust-free", "dust-free"},
	drying.TackFree:    {"tack-free", "is tack-free", "tack-free"},
	drying.Sandable:    {"sandable", "can be sanded", "sand"},
	drying.DryToRecoat: {"dry to recoat", "can take the next coat", "recoat"},
	drying.Handle:      {"at handling strength", "can be handled", "handle"},
	drying.Cured:       {"cured", "is cured", "cured"},
}

// channelWords name a channel in a sentence.
func channelWords(c sensors.Channel) string {
	name := strings.ReplaceAll(c.Quantity.String(), "-", " ")
	if c.Probe != "" {
		name += " (probe " + c.Probe + ")"
	}
	return name
}

// listWords joins names: "a", "a and b", "a, b and c".
func listWords(names []string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	last := len(names) - 1
	return strings.Join(names[:last], ", ") + " and " + names[last]
}
