package dashboards

import (
	"context"
	"net/http"
	"time"

	"recoat/internal/room"
)

// roomView is the room page.
type roomView struct {
	Rooms    []navLink // all rooms, where there are several
	ID       string
	Title    string
	Verdict  verdictView
	Silences []string
	Alerts   []alertView
	Air      []fact
	Whence   []source // where the figures of the air come from
	Surfaces []surfaceView
	Nodes    []nodeView
	Spans    []span
	Look     lookView
	Chart    *chartView // nil where nothing was measured
	Failed   string     // why there is no history
}

// lookView is which piece of the history is shown, and the ways on from it.
type lookView struct {
	Key            string // of the span, empty if it is none of ours
	From, To       string
	Query          string // asks for the same again
	Earlier, Later string // queries; Later is empty where now is shown
	Live           bool
}

// fact is one quantity of the air, in words and as a number, with where it comes
// from.
type fact struct{ Name, Value, Meaning, From string }

type surfaceView struct {
	Label, Surface, Margin, Sigma, AtSurface string
	From                                     string // where its figures come from
	Measured                                 bool
}

type nodeView struct {
	Node, Heard string
	Silent      bool
}

func (s *server) room(w http.ResponseWriter, r *http.Request) {
	now := s.now()
	snapshots := s.house.Snapshots()
	snap, ok := find(snapshots, r.PathValue("id"))
	if !ok {
		s.say(w, http.StatusNotFound, message{"No such room", "No room is called that. Tonight leads to every room."})
		return
	}
	view := s.words.roomView(snap, now)
	win := windowOf(r.URL.Query(), now)
	view.Look = s.words.look(win, now)
	view.Chart, view.Failed = s.chart(r.Context(), snap, win)
	p := s.page(view.Title, snapshots, now)
	view.Rooms = roomTabs(p.Rooms, snap.Room)
	p.Section = "Room"
	p.Body = view
	s.render(w, http.StatusOK, "room", p)
}

// roomTabs lead from one room to the others.
func roomTabs(rooms []roomLink, here string) []navLink {
	if len(rooms) < 2 {
		return nil
	}
	var tabs []navLink
	for _, r := range rooms {
		tabs = append(tabs, navLink{Title: r.Title, Href: "/room/" + r.ID, Here: r.ID == here})
	}
	return tabs
}

func find(snapshots []room.Snapshot, id string) (room.Snapshot, bool) {
	for _, s := range snapshots {
		if s.Room == id {
			return s, true
		}
	}
	return room.Snapshot{}, false
}

func (w words) look(win window, now time.Time) lookView {
	a := axis{from: win.from, to: win.to}
	v := lookView{
		Key: win.key, From: w.dated(win.from, a), To: w.dated(win.to, a), Query: win.query(), Live: win.live,
		Earlier: win.moved(-0.5, now).query(),
	}
	if win.live {
		v.To = "now"
	} else {
		v.Later = win.moved(0.5, now).query()
	}
	return v
}

// chart returns the history drawn, or a sentence on why there is none.
func (s *server) chart(ctx context.Context, snap room.Snapshot, win window) (*chartView, string) {
	if s.history == nil {
		return nil, "No history is kept here."
	}
	c, err := s.charted(ctx, snap, win)
	if err != nil {
		s.log.Error("read history", "room", snap.Room, "err", err)
		return nil, "The history cannot be read just now. The log says why."
	}
	return s.words.chart(c), ""
}

func (w words) roomView(s room.Snapshot, now time.Time) roomView {
	v := roomView{
		ID:       s.Room,
		Title:    roomTitle(s),
		Verdict:  w.verdict(s, now),
		Silences: w.silences(s, now),
		Alerts:   w.alerts(s.Alerts, now),
		Air:      w.facts(s),
		Whence:   w.airFrom(s.Air),
		Spans:    spans,
	}
	for _, x := range s.Surfaces {
		v.Surfaces = append(v.Surfaces, surfaceView{
			From: "#" + fromSurface(s, x), Label: x.Label, Surface: w.temperature(x.Surface), Margin: w.difference(x.Margin),
			Sigma: w.difference(shownSigmas * x.Sigma), AtSurface: percent(x.AtSurface), Measured: x.Measured,
		})
	}
	for _, n := range s.Nodes {
		heard := "never"
		if !n.Heard.IsZero() {
			heard = age(now.Sub(n.Heard))
		}
		v.Nodes = append(v.Nodes, nodeView{Node: n.Node, Heard: heard, Silent: n.Silent})
	}
	return v
}

// facts are the state of the air, each with what it means to a finisher.
func (w words) facts(s room.Snapshot) []fact {
	a := s.Air
	if a == nil {
		return nil
	}
	from := func(what string) string { return "#" + fromRoom(s.Room, what) }
	facts := []fact{
		{"Air temperature", w.temperature(a.Air), "", from("air")},
		{"Relative humidity", percent(a.Humidity), "", from("air")},
		{"Dew point", w.temperature(a.DewPoint), "a surface colder than this gets wet", from("dew")},
		{"Wet bulb", w.temperature(a.WetBulb), "what a wet waterborne film cools towards", "#from-wet-bulb"},
		{"Water in the air", number(a.AbsoluteGM3, 1) + " g/m³", "", "#from-water"},
		{"Wood moisture", number(a.WoodEMC, 1) + " %", "where wood left in this air ends up", "#from-wood"},
	}
	if a.Pressure > 0 {
		facts = append(facts, fact{"Air pressure", number(float64(a.Pressure)/100, 0) + " hPa", "", "#from-pressure"})
	}
	return facts
}

// airFrom says where the figures come from that the verdict does not tell of.
func (w words) airFrom(a *room.AirNow) []source {
	if a == nil {
		return nil
	}
	both := w.temperature(a.Air) + " and " + percent(a.Humidity)
	pressure := "taken at sea level, as no sensor gives it"
	if a.Pressure > 0 {
		pressure = "at " + number(float64(a.Pressure)/100, 0) + " hPa"
	}
	out := []source{
		{"from-wet-bulb", "Wet bulb " + w.temperature(a.WetBulb) + ": how far air at " + both + " cools what evaporates water into it, " + pressure + "."},
		{"from-water", "Water in the air " + number(a.AbsoluteGM3, 1) + " g/m³: the vapour that makes " + percent(a.Humidity) + " at " + w.temperature(a.Air) + "."},
		{"from-wood", "Wood moisture " + number(a.WoodEMC, 1) + " %: where wood comes to rest in air at " + both + " that stays so, by the formula of the Wood Handbook (USDA, Forest Products Laboratory). The wood on the bench may be far from it yet."},
	}
	if a.Pressure > 0 {
		out = append(out, source{"from-pressure", "Air pressure " + number(float64(a.Pressure)/100, 0) + " hPa: read by the room's own sensor."})
	}
	return out
}
