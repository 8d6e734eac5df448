package dashboards

import (
	"fmt"
	"slices"
	"time"

	"recoat/drying"
	"recoat/internal/room"
)

// why says where the time of a coat's next stage comes from, in the order in
// which it is reckoned: the label, what has passed, the pace now, the forecast,
// and what touch tests taught.
func (w words) why(s room.Snapshot, c room.CoatNow, e drying.Estimate, now time.Time) []string {
	out := []string{w.labelSays(c, e), w.passed(c, e, now)}
	if !e.Reached {
		out = append(out, w.paceNow(c, e))
		out = append(out, w.whatIsLeft(s, e, now)...)
	}
	if e.Uncovered >= time.Minute {
		out = append(out, "For "+spell(e.Uncovered)+" nothing was measured. No progress is counted in that time; the early end of the span allows for some.")
	}
	out = append(out, taught(c))
	return append(out, w.comesTo(e, now))
}

// comesTo is what the reckoning gives.
func (w words) comesTo(e drying.Estimate, now time.Time) string {
	switch {
	case e.Likely.IsZero():
		return "So no time can be given."
	case e.Reached:
		return "So it is " + stageWords[e.Stage].state + " since " + w.likely(e, now) + " by the model. Touch decides."
	}
	return "So " + w.likely(e, now) + ", and " + w.between(e, now) + " eight times in ten, as the model is tested. Touch decides."
}

func (w words) labelSays(c room.CoatNow, e drying.Estimate) string {
	at := ""
	if c.Stated.Humidity > 0 {
		at = " at " + w.temperature(c.Stated.Air) + " and " + percent(c.Stated.Humidity)
		if c.Stated.Film > 0 {
			at += fmt.Sprintf(", with %s µm of wet film", number(float64(c.Stated.Film), 0))
		}
	}
	if e.Assumed {
		return "The label gives no time until it is " + stageWords[e.Stage].state + "; the usual one for its kind is " + spell(e.Stated) + at + "."
	}
	return "The label: " + spell(e.Stated) + " until it is " + stageWords[e.Stage].state + at + "."
}

// passed says how far the label's clock has come, beside the clock on the wall.
func (w words) passed(c room.CoatNow, e drying.Estimate, now time.Time) string {
	film := ""
	if c.Film > 0 && c.Film != c.Stated.Film {
		film = fmt.Sprintf(", %s µm wet", number(float64(c.Film), 0))
	}
	on := "Put on at " + w.clock(c.Applied, now) + film + "."
	if e.Stated <= 0 {
		return on
	}
	return fmt.Sprintf("%s In the %s since, %s passed on the label's clock: %s of the way.",
		on, spell(now.Sub(c.Applied)), have(spell(time.Duration(e.Gained*float64(e.Stated)))), share100(e.Done))
}

// have puts the verb after a length of time.
func have(spelt string) string {
	if spelt == "1 h" || spelt == "1 min" {
		return spelt + " has"
	}
	return spelt + " have"
}

func share100(v float64) string { return fmt.Sprintf("%.0f %%", 100*min(max(v, 0), 1)) }

func (w words) paceNow(c room.CoatNow, e drying.Estimate) string {
	if len(e.Blocked) > 0 {
		return "Now the label's clock stands: " + clause(w.inUnits(e.Blocked[0].Text)) + "."
	}
	return "Now, in this air: pace " + number(c.Pace, 2) + ". At pace 1 an hour here would count for an hour on the label."
}

func (w words) whatIsLeft(s room.Snapshot, e drying.Estimate, now time.Time) []string {
	if e.Likely.IsZero() {
		return nil
	}
	if s.Ahead == nil {
		return []string{"What is left is counted as if the room stayed as it was in the last hour: it has not been measured for long enough to forecast it."}
	}
	return []string{fmt.Sprintf("What is left is counted through %d ways the room may go, forecast from its own last days. In the middle of them it ends at %s.",
		s.Ahead.Members(), w.likely(e, now))}
}

func taught(c room.CoatNow) string {
	if c.Lesson == "" {
		return "No touch test has taught yet how this product dries here: the label is taken as it stands."
	}
	return capital(c.Lesson) + "."
}

// spell is a length of time in words, no more exact than five minutes once it is
// longer than an hour.
func spell(d time.Duration) string {
	if d < 0 {
		d = 0
	}
	if d >= 48*time.Hour {
		return number(float64(d/time.Hour)/24, 0) + " days"
	}
	if d >= time.Hour {
		d = d.Round(told)
	}
	hours, minutes := int(d/time.Hour), int(d%time.Hour/time.Minute)
	switch {
	case hours == 0:
		return fmt.Sprintf("%d min", minutes)
	case minutes == 0:
		return fmt.Sprintf("%d h", hours)
	default:
		return fmt.Sprintf("%d h %d min", hours, minutes)
	}
}

// sources says where each number of the verdict comes from.
func (w words) sources(s room.Snapshot, now time.Time) []source {
	if s.Air == nil {
		return nil
	}
	read := " at " + w.clock(s.Air.ReadAt, now)
	out := []source{
		{fromRoom(s.Room, "air"), "Air " + w.temperature(s.Air.Air) + " and " + percent(s.Air.Humidity) + ": read" + read + " by the room's own sensor. The Room page shows how they got here."},
		{fromRoom(s.Room, "dew"), "Dew point " + w.temperature(s.Air.DewPoint) + ": reckoned from those two, over water. A surface colder than this gets wet."},
	}
	for _, x := range s.Surfaces {
		out = append(out, source{fromSurface(s, x), w.marginFrom(s, x)})
	}
	out = append(out, source{fromRoom(s.Room, "limit"), "At least " + w.limit(s.Limit) + " is asked for: the room's own limit. A label that asks for more comes first."})
	if text := w.turnsFrom(s, now); text != "" {
		out = append(out, source{fromRoom(s.Room, "until"), text})
	}
	return out
}

// fromSurface is where the figures of a surface come from.
func fromSurface(s room.Snapshot, x room.SurfaceNow) string {
	for i, o := range s.Surfaces {
		if o == x {
			return fromRoom(s.Room, fmt.Sprintf("surface-%d", i+1))
		}
	}
	return ""
}

// marginFrom says how the dew margin of a surface was come by.
func (w words) marginFrom(s room.Snapshot, x room.SurfaceNow) string {
	from := "measured by probe " + x.Probe
	if !x.Measured {
		from = "reckoned from the air, as no probe sits on it"
	}
	text := x.Label + " " + w.temperature(x.Surface) + ": " + from + ". Less the dew point of " + w.temperature(s.Air.DewPoint) + " that leaves " + w.difference(x.Margin)
	if x.Margin < 0 {
		text += ", which is " + w.difference(-x.Margin) + " below it"
	}
	if x.Sigma > 0 {
		text += "; the sensors may be off by ± " + w.difference(shownSigmas*x.Sigma) + " between them, 95 times in 100"
	}
	text += "."
	if x.AtSurface > 0 {
		text += " The humidity at it is " + percent(x.AtSurface) + ": the water in the air, at that temperature."
	}
	return text
}

// turns are the times that the verdict tells of the projected margin, and where
// they come from.
func (w words) turns(s room.Snapshot, now time.Time) []num {
	var out []num
	for _, t := range turnsOf(s, now) {
		out = append(out, num{w.clock(t.at, now), "#" + fromRoom(s.Room, "until")})
	}
	return out
}

// turn is an instant at which the projected margin does something.
type turn struct {
	at  time.Time
	how string
}

func turnsOf(s room.Snapshot, now time.Time) []turn {
	if s.Air == nil {
		return nil
	}
	var out []turn
	add := func(at time.Time, how string) {
		if !slices.ContainsFunc(out, func(t turn) bool { return t.at.Equal(at) }) {
			out = append(out, turn{at, how})
		}
	}
	if at, ok := fallsUnder(s.Margin, s.Limit, now); ok {
		add(earlier(at), "the middle of the forecast falls under it")
	}
	if at, ok := fallsUnder(lows(s.Margin), s.Limit, now); ok {
		add(earlier(at), "the lowest tenth of the forecast falls under it")
	}
	if at, ok := risesOver(s.Margin, s.Limit, now); ok {
		add(later(at), "the middle of the forecast stays over it for an hour and more")
	}
	if n := len(s.Margin); n > 0 && s.Margin[n-1].Projected {
		add(s.Margin[n-1].At, "nothing is looked ahead of that")
	}
	return out
}

// turnsFrom says how those times were come by.
func (w words) turnsFrom(s room.Snapshot, now time.Time) string {
	turns := turnsOf(s, now)
	if len(turns) == 0 {
		return ""
	}
	text := "The dew margin to come against " + w.limit(s.Limit) + ", "
	if s.Ahead != nil {
		text += fmt.Sprintf("by %d ways the room may go, forecast from its own last days: ", s.Ahead.Members())
	} else {
		text += "as it has strayed before, since the room has not been measured for long enough to forecast it: "
	}
	var each []string
	for _, t := range turns {
		each = append(each, w.clock(t.at, now)+" "+t.how)
	}
	return text + listWords(each) + ". Each is told to a quarter of an hour, to the careful side."
}
