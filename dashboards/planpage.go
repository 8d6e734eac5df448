package dashboards

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"time"

	"recoat/drying/plan"
	"recoat/internal/partplan"
	"recoat/internal/room"
	"recoat/internal/shop"
)

// planView is the plan page: what is asked, and what comes of it.
type planView struct {
	Rooms    []option
	Products []option
	Parts    []option // with coats to come; the first choice is none
	Room     string
	Part     string // empty: a product by itself
	Coming   []coatAhead
	Work     int64 // minutes that sanding takes
	By       string
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
	After     string   // what follows the last coat
	Untold    []string // what the plan does not count
	Delivery  string
	StartBy   int64 // the latest start for that; 0: there is none
	FromAxis  int64
	PerCent   float64 // of the axis that one step of the start is
	NextGood  int64   // s since 1970; 0: none
	NextWords string
}

// planBar is one coat of the chain.
type planBar struct {
	Number                       int
	Name, Before, Detail         string
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
	// planFurthest is the latest start that can be asked for, for a part that is
	// not ready sooner, or a delivery some days off.
	planFurthest = 14 * 24 * time.Hour
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
	if err := s.planned(r.Context(), &view, snapshots, products, r.URL.Query()); err != nil {
		s.cannotRead(w, "read what is to be planned", err)
		return
	}
	s.show(w, r, http.StatusOK, shown{title: "Plan", section: "Plan", template: "plan", body: view})
}

// planAsked reads what is asked, taking what cannot be for the nearest that can.
func (s *server) planAsked(query url.Values, snapshots []room.Snapshot, now time.Time) planView {
	first := now.Truncate(planStep).Add(planStep)
	v := planView{
		Room: query.Get("room"), Part: query.Get("part"), Product: query.Get("product"), Coats: 2, Most: mostPlanned,
		Work: int64(partplan.UsualWork / time.Minute),
		From: first.Unix(), To: first.Add(planAhead).Unix(), Step: int64(planStep / time.Second), At: first.Unix(),
	}
	for _, r := range snapshots {
		v.Rooms = append(v.Rooms, option{r.Room, roomTitle(r)})
	}
	if n, err := strconv.Atoi(query.Get("coats")); err == nil {
		v.Coats = min(max(n, 1), mostPlanned)
	}
	if n, err := strconv.Atoi(query.Get("work")); err == nil {
		v.Work = int64(min(max(n, 0), mostSanding))
	}
	if by, ok := s.words.wanted(query.Get("by")); ok && by.After(now) {
		v.By = by.Format(wantedForm)
	}
	if at := second(query.Get("at")); !at.IsZero() {
		v.At = min(max(at.Truncate(planStep).Unix(), v.From), first.Add(planFurthest).Unix())
		v.To = max(v.To, v.At)
	}
	v.Start = s.words.clock(time.Unix(v.At, 0), now)
	return v
}

// planIn is what a plan is made from.
type planIn struct {
	query    url.Values
	snap     room.Snapshot
	products []shop.Product
}

// planned fills in what comes of what is asked. Where nothing is asked yet, the
// product of the newest coat is taken, and the first room. An error says that the
// journal cannot be read; whatever else stands in the way is in the view.
func (s *server) planned(ctx context.Context, v *planView, snapshots []room.Snapshot, products []shop.Product, query url.Values) error {
	snap, ok := find(snapshots, v.Room)
	if !ok && len(snapshots) > 0 {
		snap, ok = snapshots[0], true
	}
	switch {
	case !ok:
		v.Failed, v.Way = "No room is set up yet. Start an agent in the drying room first.", navLink{Title: "See how", Href: "/setup"}
		return nil
	case len(products) == 0:
		v.Failed, v.Way = "No product is in the journal yet. Copy its label, and come back.", navLink{Title: "Copy a label", Href: "/products/new"}
		return nil
	}
	v.Room = snap.Room
	product := chosen(products, v.Product, snap)
	v.Product = product.ID
	parts, err := s.openParts(ctx, snap.Room)
	if err != nil {
		return err
	}
	for _, o := range parts {
		v.Parts = append(v.Parts, option{o.part.ID, o.name()})
	}
	ask := planAsk{start: time.Unix(v.At, 0).In(s.words.location), changes: map[string]bool{}, work: time.Duration(v.Work) * time.Minute}
	ask.by, _ = s.words.wanted(v.By)
	for _, key := range query["with"] {
		ask.changes[key] = true
	}
	i := slices.IndexFunc(parts, func(o openPart) bool { return o.part.ID == v.Part })
	if i < 0 {
		v.Part, ask.coats = "", times(product.Label, v.Coats)
	} else if err := s.planPart(ctx, v, &ask, parts[i], planIn{query, snap, products}); err != nil {
		v.Failed = cannotPlan(err)
		return nil
	}
	p, err := s.words.plan(snap, ask, plan.UsualHours(s.words.location))
	if err != nil {
		v.Failed = cannotPlan(err)
		return nil
	}
	v.Result = s.words.planResult(p, ask, s.now())
	return nil
}

func cannotPlan(err error) string {
	if errors.Is(err, errNoForecast) {
		return sentence(err.Error())
	}
	return "Nothing can be planned with this: " + sentence(err.Error())
}

// mostSanding is the longest that sanding between two coats may take, minutes.
const mostSanding = 600

// wantedForm is how a browser's field gives an instant.
const wantedForm = "2006-01-02T15:04"

func (w words) wanted(text string) (time.Time, bool) {
	t, err := time.ParseInLocation(wantedForm, text, w.location)
	return t, err == nil
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
		PerCent: 100 * planStep.Seconds() / a.to.Sub(a.from).Seconds(), Cautions: ask.cautions(p.change), After: ask.after, Untold: ask.untold}
	r.Chance = chanceWords(p.verdict.Chance)
	r.Headline, r.Reasons = w.planVerdict(p, now)
	r.Delivery, r.StartBy = w.delivery(p.delivery, now)
	if ask.opens.After(ask.start) {
		opens := w.clock(ask.opens.Round(told), now)
		r.Good, r.Headline = false, "Do not start at "+w.clock(ask.start, now)+": not ready for it before "+opens
		r.Reasons = append([]string{"What the schedule has before it, a coat below or another part, is likely not ready until " + opens + "."}, r.Reasons...)
	}
	if !p.nextGood.IsZero() {
		at := later(p.nextGood)
		r.NextGood, r.NextWords = at.Unix(), w.clock(at, now)
	}
	for i, c := range p.chain.Coats {
		b := w.planBar(a, i, len(p.chain.Coats), c, now)
		if len(ask.names) > i {
			b.Name, b.Before = ask.names[i], ask.before[i]
		}
		r.Bars = append(r.Bars, b)
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
