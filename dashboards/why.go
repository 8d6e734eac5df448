package dashboards

import (
	"fmt"
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
	return append(out, "The span is the one it ends within eight times in ten, as the model is tested. Touch decides.")
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
	return fmt.Sprintf("%s In the %s since, %s have passed on the label's clock: %s of the way.",
		on, spell(now.Sub(c.Applied)), spell(time.Duration(e.Gained*float64(e.Stated))), share100(e.Done))
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
func (w words) sources(s room.Snapshot, now time.Time) []string {
	if s.Air == nil {
		return nil
	}
	out := []string{
		"Air " + w.temperature(s.Air.Air) + " and " + percent(s.Air.Humidity) + ": read at " + w.clock(s.Air.ReadAt, now) + " by the room's own sensor. The Room page shows how they got here.",
		"Dew point " + w.temperature(s.Air.DewPoint) + ": reckoned from those two, over water. A surface colder than this gets wet.",
	}
	if c, ok := nearestDew(s.Surfaces); ok {
		from := "measured by probe " + c.Probe
		if !c.Measured {
			from = "reckoned from the air, as no probe sits on it"
		}
		text := c.Label + " " + w.temperature(c.Surface) + ": " + from + ". Less the dew point that leaves " + w.difference(c.Margin)
		if c.Sigma > 0 {
			text += "; the sensors may be off by ± " + w.difference(shownSigmas*c.Sigma) + " between them, 95 times in 100"
		}
		out = append(out, text+".")
	}
	return append(out, "At least "+w.limit(s.Limit)+" is asked for: the room's own limit. A label that asks for more comes first.")
}
