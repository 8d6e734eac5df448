package dashboards

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"time"

	"recoat/drying/plan"
	"recoat/internal/room"
	"recoat/internal/shop"
)

// planView is the plan page: what is asked, and what comes of it.
type planView struct {
	Rooms    []option
	Products []option
	Room     string
	Product  string
	Coats    int
	Most     int
	From, To int64 // of the start, s since 1970
	Step     int64
	At       int64
	Start    string  // in words
	Failed   string  // why nothing can be planned
	Way      navLink // what to do about that; empty: wait
	Result   *planResult
}

// planResult is a chain of coats on a strip of time.
type planResult struct {
	Headline  string
	Chance    string   // "37 in 100"
	Whence    []source // where the figures come from
	Good      bool
	Reasons   []string
	Ticks     []tick
	NightAt   []nearDew // hours in which nobody works
	Bars      []planBar
	Done      string
	DoneSpan  string
	Guess     string // from when on it is a guess, empty if nothing is
	WhatIfs   []whatIfView
	Cautions  []string
	FromAxis  int64
	PerCent   float64 // of the axis that one step of the start is
	NextGood  int64   // s since 1970; 0: none
	NextWords string
}

// planBar is one coat of the chain.
type planBar struct {
	Number                       int
	Name, Detail                 string
	At, Solid, HatchAt, Hatch    string
	Tick, Anchor, Label          string
	From, FromSpan, Ready, Spans string
	Chance                       string
	First                        bool
}

type whatIfView struct {
	Key, Title, Saves, Energy string
	On                        bool
}

const (
	mostPlanned = 4
	planStep    = 15 * time.Minute
	planAhead   = 36 * time.Hour // the latest start that is offered
	planShown   = 10 * 24 * time.Hour
)

func (s *server) planRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /plan", s.planPage)
}

func (s *server) planPage(w http.ResponseWriter, r *http.Request) {
	now := s.now()
	snapshots := s.house.Snapshots()
	view := s.planAsked(r.URL.Query(), snapshots, now)
	products, err := s.book.Products.Products(r.Context())
	if err != nil {
		s.cannotRead(w, "list products", err)
		return
	}
	for _, p := range products {
		view.Products = append(view.Products, option{p.ID, p.Label.Name})
	}
	s.planned(&view, snapshots, products, r.URL.Query())
	s.show(w, r, http.StatusOK, shown{title: "Plan", section: "Plan", template: "plan", body: view})
}

// planAsked reads what is asked, taking what cannot be for the nearest that can.
func (s *server) planAsked(query url.Values, snapshots []room.Snapshot, now time.Time) planView {
	first := now.Truncate(planStep).Add(planStep)
	v := planView{
		Room: query.Get("room"), Product: query.Get("product"), Coats: 2, Most: mostPlanned,
		From: first.Unix(), To: first.Add(planAhead).Unix(), Step: int64(planStep / time.Second), At: first.Unix(),
	}
	for _, r := range snapshots {
		v.Rooms = append(v.Rooms, option{r.Room, roomTitle(r)})
	}
	if n, err := strconv.Atoi(query.Get("coats")); err == nil {
		v.Coats = min(max(n, 1), mostPlanned)
	}
	if at := second(query.Get("at")); !at.IsZero() {
		v.At = min(max(at.Truncate(planStep).Unix(), v.From), v.To)
	}
	v.Start = s.words.clock(time.Unix(v.At, 0), now)
	return v
}

// planned fills in what comes of what is asked. Where nothing is asked yet, the
// product of the newest coat is taken, and the first room.
func (s *server) planned(v *planView, snapshots []room.Snapshot, products []shop.Product, query url.Values) {
	snap, ok := find(snapshots, v.Room)
	if !ok && len(snapshots) > 0 {
		snap, ok = snapshots[0], true
	}
	switch {
	case !ok:
		v.Failed, v.Way = "No room is set up yet. Start an agent in the drying room first.", navLink{Title: "See how", Href: "/setup"}
		return
	case len(products) == 0:
		v.Failed, v.Way = "No product is in the journal yet. Copy its label, and come back.", navLink{Title: "Copy a label", Href: "/products/new"}
		return
	}
	v.Room = snap.Room
	product := chosen(products, v.Product, snap)
	v.Product = product.ID
	ask := planAsk{product: product.Label, coats: v.Coats, start: time.Unix(v.At, 0).In(s.words.location), changes: map[string]bool{}}
	for _, key := range query["with"] {
		ask.changes[key] = true
	}
	p, err := s.words.plan(snap, ask, plan.UsualHours(s.words.location))
	if err != nil {
		v.Failed = sentence(err.Error())
		if !errors.Is(err, errNoForecast) {
			v.Failed = "Nothing can be planned with this: " + v.Failed
		}
		return
	}
	v.Result = s.words.planResult(p, ask, s.now())
}

// chosen is the product asked for, else that of the newest coat in the room,
// else the first.
func chosen(products []shop.Product, id string, s room.Snapshot) shop.Product {
	if i := slices.IndexFunc(products, func(p shop.Product) bool { return p.ID == id }); i >= 0 {
		return products[i]
	}
	for _, c := range slices.Backward(s.Coats) {
		if i := slices.IndexFunc(products, func(p shop.Product) bool { return p.Label.Name == c.Product }); i >= 0 {
			return products[i]
		}
	}
	return products[0]
}

func (w words) planResult(p planned, ask planAsk, now time.Time) *planResult {
	a := planAxis(p, now, w)
	r := &planResult{Ticks: a.ticks(), NightAt: nights(a, plan.UsualHours(w.location)), FromAxis: a.from.Unix(), Good: p.verdict.Go(),
		PerCent: 100 * planStep.Seconds() / a.to.Sub(a.from).Seconds(), Cautions: p.change.Cautions()}
	r.Chance = chanceWords(p.verdict.Chance)
	r.Headline, r.Reasons = w.planVerdict(p, now)
	if !p.nextGood.IsZero() {
		at := later(p.nextGood)
		r.NextGood, r.NextWords = at.Unix(), w.clock(at, now)
	}
	for i, c := range p.chain.Coats {
		r.Bars = append(r.Bars, w.planBar(a, i, len(p.chain.Coats), c, now))
	}
	r.Done, r.DoneSpan = w.times(p.chain.Done, now)
	if !p.chain.Done.High.IsZero() && p.chain.Done.High.After(p.until) || p.chain.Done.High.IsZero() {
		r.Guess = w.clock(p.until, now)
	}
	for _, x := range p.whatIfs {
		r.WhatIfs = append(r.WhatIfs, x.view(ask.changes[x.key]))
	}
	r.Whence = w.planFrom(r, p, ask, now)
	return r
}

// planAxis runs from now to a little after the chain, at least to the latest
// start that is offered, so that dragging does not move the scale.
func planAxis(p planned, now time.Time, w words) axis {
	to := now.Add(planAhead + 12*time.Hour)
	for _, t := range []time.Time{p.chain.Done.Likely, p.chain.Done.High} {
		if t.After(to) && t.Sub(now) < planShown {
			to = t
		}
	}
	y, m, d := to.In(w.location).Date()
	return axis{from: now, to: time.Date(y, m, d+1, 0, 0, 0, 0, w.location), now: now, location: w.location, form: w.form("15:04")}
}

// nights are the hours on the axis in which nobody works.
func nights(a axis, h plan.Hours) []nearDew {
	var out []nearDew
	for t := a.from; t.Before(a.to); t = t.Add(planStep) {
		if h.Has(t) {
			continue
		}
		opens := h.Next(t)
		out = append(out, nearDew{X: pct(a.at(t)), Width: length(a, t, opens), from: t, to: opens})
		t = opens.Add(-planStep)
	}
	return out
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
