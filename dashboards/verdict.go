package dashboards

import (
	"time"

	"recoat/drying"
	"recoat/internal/room"
	"recoat/sensors"
)

// steady is how long a projected margin must stay over its limit to count as
// fit again.
const steady = time.Hour

// verdictView is the verdict of one room and the numbers behind it.
type verdictView struct {
	ID       string
	Room     string // its id
	State    string // "fit", "caution", "unfit", "unknown": names a shape and a word
	Headline string
	Air      *airView
	Reasons  []string
	Outlook  string   // what the projected margin will do, empty if nothing is known
	Sources  []source // where the numbers come from
	Turns    []num    // the times at which the projected margin turns
	Next     *step    // what to do first; nil: nothing, or it is told elsewhere
	Parts    string   // when the first of the parts here can take its next coat
	Part     num      // the time in that
}

// airView is the air now, in words. Margin is empty while no surface is known.
type airView struct {
	ReadAt   time.Time
	Age      string
	Air      string
	Humidity string
	DewPoint string
	Surface  string // the one nearest to its dew point
	Margin   string
	From     string // what the margin's figures lead to
	Sigma    string
	Below    bool // the surface is below the dew point: it is wet
	Measured bool
}

func (w words) verdict(s room.Snapshot, now time.Time) verdictView {
	s.Margin = upTo(s.Margin, tonightAxis(now, w.location).to)
	v := verdictView{
		ID:       "checked-" + s.Room,
		Room:     s.Room,
		State:    s.Verdict.State.String(),
		Headline: w.headline(s, now),
		Air:      w.airNow(s, now),
		Outlook:  w.outlook(s, now),
		Sources:  w.sources(s, now),
		Turns:    w.turns(s, now),
	}
	v.Parts, v.Part = w.firstPart(s, now)
	v.Reasons = w.reasonTexts(s.Verdict.Reasons)
	if !v.Holds() && len(v.Reasons) > 0 {
		v.Reasons = v.Reasons[1:] // the headline says the first
	}
	return v
}

// upTo leaves out what is projected beyond the strip of time.
func upTo(points []room.MarginPoint, end time.Time) []room.MarginPoint {
	for i, p := range points {
		if p.At.After(end) {
			return points[:i]
		}
	}
	return points
}

// Holds reports whether the reasons are what makes the room fit.
func (v verdictView) Holds() bool { return v.State == drying.Fit.String() }

// headline is the one sentence a finisher came for.
func (w words) headline(s room.Snapshot, now time.Time) string {
	why := ""
	if len(s.Verdict.Reasons) > 0 {
		why = ": " + clause(w.inUnits(s.Verdict.Reasons[0].Text))
	}
	switch s.Verdict.State {
	case drying.Fit:
		if until, ok := fallsUnder(s.Margin, s.Limit, now); ok {
			return "Fit to coat, until about " + w.clock(earlier(until), now)
		}
		return "Fit to coat"
	case drying.Caution:
		return "Wait if you can" + why
	case drying.Unfit:
		return "Not fit" + why
	default:
		return "No verdict: " + w.unheard(s, now)
	}
}

// unheard says in a few words why there is no verdict.
func (w words) unheard(s room.Snapshot, now time.Time) string {
	for _, n := range s.Nodes {
		if n.Silent && !n.Heard.IsZero() {
			return "node " + n.Node + " is silent since " + w.clock(n.Heard, now)
		}
	}
	for _, n := range s.Nodes {
		if len(n.Missing) > 0 {
			return "node " + n.Node + " gives no " + channelList(n.Missing)
		}
	}
	if s.Starting {
		return "recoat has just started, the first reading is due within a minute"
	}
	if len(s.Verdict.Reasons) > 0 {
		return clause(w.inUnits(s.Verdict.Reasons[0].Text))
	}
	return "the room is not being measured"
}

func (w words) airNow(s room.Snapshot, now time.Time) *airView {
	if s.Air == nil {
		return nil
	}
	a := &airView{
		ReadAt:   s.Air.ReadAt,
		Age:      age(now.Sub(s.Air.ReadAt)),
		Air:      w.temperature(s.Air.Air),
		Humidity: percent(s.Air.Humidity),
		DewPoint: w.temperature(s.Air.DewPoint),
	}
	if c, ok := nearestDew(s.Surfaces); ok {
		a.Surface, a.Measured, a.Below = c.Label, c.Measured, c.Margin < 0
		a.From = fromSurface(s, c)
		a.Margin = w.difference(max(c.Margin, -c.Margin))
		if c.Sigma > 0 {
			a.Sigma = w.difference(shownSigmas * c.Sigma)
		}
	}
	return a
}

// shownSigmas is how many standard uncertainties stand behind a ±, here as in the
// reasons: some 95 in 100.
const shownSigmas = 2

// nearestDew returns the surface with the least dew margin.
func nearestDew(surfaces []room.SurfaceNow) (room.SurfaceNow, bool) {
	if len(surfaces) == 0 {
		return room.SurfaceNow{}, false
	}
	least := surfaces[0]
	for _, s := range surfaces[1:] {
		if s.Margin < least.Margin {
			least = s
		}
	}
	return least, true
}

// firstPart says when the first part in the room can take its next coat, where
// none can yet: a fit room alone is no leave to coat it.
func (w words) firstPart(s room.Snapshot, now time.Time) (string, num) {
	var first *drying.Estimate
	from := ""
	for _, c := range s.Coats {
		for i := range c.Estimates {
			e := &c.Estimates[i]
			switch {
			case e.Stage != drying.DryToRecoat:
			case e.Reached:
				return "", num{}
			case e.Likely.IsZero(): // it stands still, and says so itself
			case first == nil || e.Likely.Before(first.Likely):
				first, from = e, fromCoat(c.ID, e.Stage.String())
			}
		}
	}
	if first == nil {
		return "", num{}
	}
	at := w.likely(*first, now)
	return "No part drying here can take its next coat before " + at + ".", num{at, from}
}

// outlook says what the projected margin does next.
func (w words) outlook(s room.Snapshot, now time.Time) string {
	if s.Verdict.State == drying.Unknown {
		return ""
	}
	limit := w.limit(s.Limit)
	if s.Verdict.State == drying.Unfit {
		if from, ok := risesOver(s.Margin, s.Limit, now); ok && marginDecides(s.Verdict) {
			return "The dew margin is likely back over " + limit + " from about " + w.clock(later(from), now) + "."
		}
		return ""
	}
	if at, ok := fallsUnder(s.Margin, s.Limit, now); ok {
		return "The dew margin likely falls under " + limit + " about " + w.clock(earlier(at), now) + "."
	}
	if at, ok := fallsUnder(lows(s.Margin), s.Limit, now); ok {
		return "The dew margin likely stays over " + limit + ", but may fall under it from about " + w.clock(earlier(at), now) + "."
	}
	if n := len(s.Margin); n > 0 && s.Margin[n-1].Projected {
		return "The dew margin likely stays over " + limit + " at least until " + w.clock(s.Margin[n-1].At, now) + ", as far as is looked ahead."
	}
	return ""
}

// marginDecides reports whether nothing but the dew margin makes a room unfit.
func marginDecides(v drying.Verdict) bool {
	for _, r := range v.Reasons {
		if r.Code != "dew-margin" {
			return false
		}
	}
	return len(v.Reasons) > 0
}

// fallsUnder returns when the projected margin first falls under the limit.
func fallsUnder(points []room.MarginPoint, limit sensors.Kelvins, now time.Time) (time.Time, bool) {
	var before *room.MarginPoint
	for i := range points {
		p := &points[i]
		if !p.Projected || !p.Known || p.At.Before(now) {
			continue
		}
		if p.Margin < limit {
			if before == nil {
				return p.At, true
			}
			return crossing(*before, *p, limit), true
		}
		before = p
	}
	return time.Time{}, false
}

// risesOver returns from when the projected margin stays at or over the limit
// for at least the steady time.
func risesOver(points []room.MarginPoint, limit sensors.Kelvins, now time.Time) (time.Time, bool) {
	var before *room.MarginPoint
	var from time.Time
	for i := range points {
		p := &points[i]
		if !p.Projected || !p.Known || p.At.Before(now) {
			continue
		}
		switch {
		case p.Margin < limit:
			from = time.Time{}
		case from.IsZero() && before == nil:
			from = p.At
		case from.IsZero():
			from = crossing(*before, *p, limit)
		}
		if !from.IsZero() && p.At.Sub(from) >= steady {
			return from, true
		}
		before = p
	}
	return time.Time{}, false
}

// crossing is when a straight line from a to b meets the limit.
func crossing(a, b room.MarginPoint, limit sensors.Kelvins) time.Time {
	share := float64((limit - a.Margin) / (b.Margin - a.Margin))
	return a.At.Add(time.Duration(share * float64(b.At.Sub(a.At))))
}

// lows are the points with the low end of the projection as their margin.
func lows(points []room.MarginPoint) []room.MarginPoint {
	out := make([]room.MarginPoint, len(points))
	for i, p := range points {
		p.Margin = p.Low
		out[i] = p
	}
	return out
}

// quarter is how exactly a projected turn is told.
const quarter = 15 * time.Minute

// earlier and later round to a quarter of an hour, each to the careful side.
func earlier(t time.Time) time.Time { return t.Truncate(quarter) }

func later(t time.Time) time.Time { return t.Add(quarter - 1).Truncate(quarter) }
