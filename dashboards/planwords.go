package dashboards

import (
	"fmt"
	"slices"
	"time"

	"recoat/drying/plan"
	"recoat/internal/shop"
)

// cautions are those of the changes that are on, and of the products, each once.
func (a planAsk) cautions(c plan.Change) []string {
	all := c.Cautions()
	for _, coat := range a.coats {
		for _, text := range shop.Cautions(coat.Product) {
			if text = sentence(text); !slices.Contains(all, text) {
				all = append(all, text)
			}
		}
	}
	return all
}

// delivery says how late a start will do, and that start; 0: none is good.
func (w words) delivery(d *plan.Delivery, now time.Time) (text string, start int64) {
	if d == nil {
		return "", 0
	}
	by := d.By.In(w.location).Format(w.form("Mon 2 Jan, 15:04"))
	switch {
	case d.Feasible():
		return "To have it at handling strength by " + by + ", start no later than " + w.clock(d.Start, now) + ".", d.Start.Unix()
	case d.Best.IsZero():
		return "By " + by + " it cannot be done: no start in working hours gives it a chance.", 0
	}
	return fmt.Sprintf("By %s it can hardly be done: the best start, %s, has a chance of %.0f in 100.", by, w.clock(d.Best, now), 100*d.Chance), 0
}

func (w words) planVerdict(p planned, now time.Time) (string, []string) {
	chance := chanceWords(p.verdict.Chance)
	start := w.clock(p.verdict.Start, now)
	head := "Start at " + start + ": a good hour"
	if !p.verdict.Go() {
		head = "Do not start at " + start
		if !p.nextGood.IsZero() {
			head += ": wait for " + w.clock(later(p.nextGood), now)
		}
	}
	reasons := []string{"The chance that the first coat keeps within every limit until it is tack-free is " + chance + "."}
	for _, f := range p.verdict.Fails {
		if f.Chance < 0.05 {
			continue
		}
		text := fmt.Sprintf("%.0f in 100: %s", 100*f.Chance, clause(w.inUnits(f.Text)))
		if !f.At.Likely.IsZero() {
			text += ", likely about " + w.clock(f.At.Likely, now)
		}
		reasons = append(reasons, text+".")
	}
	if !p.verdict.Go() && p.nextGood.IsZero() {
		reasons = append(reasons, "No good hour to start is in sight within two days.")
	}
	return head, reasons
}

// chanceWords tell a chance no more surely than a forecast can.
func chanceWords(c float64) string {
	switch {
	case c > surest:
		return fmt.Sprintf("more than %.0f in 100", 100*surest)
	case c < 1-surest:
		return fmt.Sprintf("less than %.0f in 100", 100*(1-surest))
	}
	return fmt.Sprintf("%.0f in 100", 100*c)
}

// times are the likeliest instant and the span of one.
func (w words) times(t plan.Times, now time.Time) (likely, span string) {
	if t.Likely.IsZero() {
		return "not in sight", "in fewer than half of the ways the room may go"
	}
	likely = w.clock(t.Likely.Round(told), now)
	if t.High.IsZero() {
		return likely, "from " + w.clock(t.Low.Truncate(told), now) + ", with no sure end"
	}
	return likely, "between " + w.clock(t.Low.Truncate(told), now) + " and " + w.clock(t.High.Add(told-1).Truncate(told), now)
}

func (w words) planBar(a axis, i, of int, c plan.CoatTimes, now time.Time) planBar {
	b := planBar{Number: i + 1, Name: fmt.Sprintf("Coat %d of %d", i+1, of), First: i == 0}
	b.From, b.FromSpan = w.times(c.Start, now)
	b.Ready, b.Spans = w.times(c.Ready, now)
	if c.Start.Likely.IsZero() {
		b.Detail = "Not in sight: what comes before it is not ready in most of the ways the room may go."
		return b
	}
	b.Chance = fmt.Sprintf("%.0f in 100", 100*c.Chance)
	b.At, b.Solid = pct(a.at(c.Start.Likely)), length(a, c.Start.Likely, a.to)
	b.Detail = "On at " + b.From + "; can take the next coat at " + b.Ready + ", " + b.Spans + "."
	if i+1 == of {
		b.Detail = "On at " + b.From + "; dry to recoat at " + b.Ready + ", " + b.Spans + "."
	}
	if i > 0 && c.Start.High.Sub(c.Start.Low) > time.Hour {
		b.Detail = "On at " + b.From + " (" + b.FromSpan + "); ready at " + b.Ready + ", " + b.Spans + "."
	}
	if c.Abrade > 0.2 {
		b.Detail += fmt.Sprintf(" In %.0f of 100 its recoat window has closed by then: abrade first.", 100*c.Abrade)
	}
	if c.Ready.Likely.IsZero() {
		return b
	}
	low, high := c.Ready.Low, c.Ready.High
	if high.IsZero() {
		high = a.to
	}
	if low.Before(c.Start.Likely) {
		low = c.Start.Likely
	}
	b.Solid = length(a, c.Start.Likely, low)
	b.HatchAt, b.Hatch = pct(a.at(low)), length(a, low, high)
	if a.holds(c.Ready.Likely) {
		place := a.at(c.Ready.Likely)
		b.Tick, b.Anchor, b.Label = pct(place), anchor(place), "ready "+b.Ready
	}
	return b
}

func (x whatIf) view(on bool) whatIfView {
	v := whatIfView{Key: x.key, Title: x.title, On: on, Saves: "too little is sure to say what it saves"}
	if x.known {
		v.Saves = savedWords(x.saved)
	}
	if x.energy.High > 0 {
		v.Energy = "roughly " + number(x.energy.Low, 1) + " to " + number(x.energy.High, 1) + " kWh"
	}
	return v
}

// savedWords tells a difference to a quarter of an hour.
func savedWords(d time.Duration) string {
	late := "earlier"
	if d < 0 {
		d, late = -d, "later"
	}
	d = d.Round(quarter)
	hours, minutes := d/time.Hour, d%time.Hour/time.Minute
	switch {
	case d == 0:
		return "makes no difference to when it is done"
	case hours == 0:
		return fmt.Sprintf("done %d min %s", minutes, late)
	case minutes == 0 || hours >= 12:
		return fmt.Sprintf("done %d h %s", hours, late)
	default:
		return fmt.Sprintf("done %d h %d min %s", hours, minutes, late)
	}
}
