package dashboards

import (
	"cmp"
	"context"
	"math"
	"net/http"

	"recoat/internal/alert"
	"recoat/internal/room"
	"recoat/sensors"
)

// wireHistory is a room's history for a chart: columns, null where nothing was
// measured.
type wireHistory struct {
	Unit     string        `json:"temperature_unit"` // what the page shows; values are in °C
	Twelve   bool          `json:"clock_12h"`
	ZoneS    int64         `json:"zone_offset_s"` // the shop's clock over UTC, at the end
	FromS    int64         `json:"from_unix_s"`
	ToS      int64         `json:"to_unix_s"`
	AtS      []int64       `json:"at_unix_s"`
	AirC     []*float64    `json:"air_c"`
	DewC     []*float64    `json:"dew_point_c"`
	RHPct    []*float64    `json:"rh_pct"`
	EMCPct   []*float64    `json:"wood_emc_pct"`
	Surfaces []wireColumns `json:"surfaces"`
	Paces    []wirePace    `json:"paces"`
	Limits   wireLimits    `json:"limits"`
	Near     [][2]int64    `json:"near_dew_point_unix_s"` // from and to
	Done     []wireDoing   `json:"done"`
	Told     []wireTold    `json:"alerts"`
}

type wireColumns struct {
	Label    string     `json:"label"`
	SurfaceC []*float64 `json:"surface_c"`
}

type wirePace struct {
	Product string     `json:"product"`
	Pace    []*float64 `json:"pace"`
}

// wireLimits are the room's own; a limit that it does not have is left out.
type wireLimits struct {
	AirMinC   float64 `json:"air_min_c"`
	AirMaxC   float64 `json:"air_max_c"`
	RHMaxPct  float64 `json:"rh_max_pct,omitempty"`
	MarginMin float64 `json:"dew_margin_min_c"`
}

type wireDoing struct {
	AtS   int64  `json:"at_unix_s"`
	Mark  string `json:"mark"` // as in the list of the page; empty: it is not in there
	Text  string `json:"text"`
	Touch bool   `json:"touch_test"`
}

// wireTold is an alert. One that is told once has its end where it begins.
type wireTold struct {
	FromS    int64  `json:"from_unix_s"`
	ToS      *int64 `json:"to_unix_s"` // null: it stands
	Mark     string `json:"mark"`      // as in the list of the page; empty: it is not in there
	Title    string `json:"title"`
	Severity string `json:"severity"`
	Row      int    `json:"row"`
}

// charted reads a room's history with its gaps marked and its surfaces named as
// the finisher knows them, and what was done meanwhile.
func (s *server) charted(ctx context.Context, snap room.Snapshot, win window) (charted, error) {
	c := charted{limits: snap.Limits, window: win}
	points, err := s.history.Band(ctx, snap.Room, win.from, win.to)
	if err != nil {
		return c, err
	}
	c.points = named(withGaps(points), snap.Surfaces)
	if s.doings != nil {
		if c.done, err = s.doings.Doings(ctx, snap.Room, win.from, win.to); err != nil {
			return c, err
		}
	}
	if s.told != nil {
		c.told, err = s.told.Told(ctx, snap.Room, win.from, win.to)
	}
	return c, err
}

// named puts the label of each surface in the place of its probe. A label that
// two probes have stands with the probe.
func named(points []Point, surfaces []room.SurfaceNow) []Point {
	uses := map[string]int{}
	for _, s := range surfaces {
		uses[s.Label]++
	}
	names := map[string]string{}
	for _, s := range surfaces {
		names[s.Probe] = s.Label
		if uses[s.Label] > 1 {
			names[s.Probe] = s.Label + " (" + s.Probe + ")"
		}
	}
	out := make([]Point, len(points))
	for i, p := range points {
		out[i] = p
		out[i].Surfaces = map[string]sensors.Celsius{}
		for probe, c := range p.Surfaces {
			out[i].Surfaces[cmp.Or(names[probe], probe, "surface")] = c
		}
	}
	return out
}

func (s *server) apiHistory(w http.ResponseWriter, r *http.Request) {
	snap, ok := find(s.house.Snapshots(), r.PathValue("id"))
	if !ok || s.history == nil {
		http.NotFound(w, r)
		return
	}
	win := windowOf(r.URL.Query(), s.now())
	read := win
	if r.URL.Query().Has("beside") {
		read = win.widened(0.5, s.now())
	}
	c, err := s.charted(r.Context(), snap, read)
	if err != nil {
		s.log.Error("read history", "room", snap.Room, "err", err)
		http.Error(w, "The history cannot be read just now. The log says why.", http.StatusInternalServerError)
		return
	}
	c.window = win
	s.json(w, s.words.toHistory(c))
}

// toHistory has all that was read, and marks what is in the window that is shown
// as the page's own lists do.
func (w words) toHistory(c charted) wireHistory {
	points := c.points
	_, offset := c.window.to.In(w.location).Zone()
	h := wireHistory{
		Unit: w.temperatureUnit(), Twelve: w.twelve,
		ZoneS: int64(offset), FromS: c.window.from.Unix(), ToS: c.window.to.Unix(),
		AtS:      mapped(points, func(p Point) int64 { return p.At.Unix() }),
		AirC:     mapped(points, func(p Point) *float64 { return (*float64)(p.Air) }),
		DewC:     mapped(points, func(p Point) *float64 { return (*float64)(p.DewPoint) }),
		RHPct:    mapped(points, func(p Point) *float64 { return (*float64)(p.Humidity) }),
		EMCPct:   mapped(points, Point.emc),
		Surfaces: []wireColumns{}, Near: [][2]int64{},
		Paces:  mapped(pacesOf(points, c.done), func(s series) wirePace { return wirePace{s.name, mapped(s.values, finite)} }),
		Limits: wireLimits{float64(c.limits.AirMin), float64(c.limits.AirMax), float64(c.limits.HumidityMax), float64(c.limits.DewMarginMin)},
		Done:   toDoings(c), Told: w.toTold(c),
	}
	for _, n := range nearDews(axis{from: c.window.from, to: c.window.to}, points, c.limits.DewMarginMin) {
		h.Near = append(h.Near, [2]int64{n.from.Unix(), n.to.Unix()})
	}
	for _, name := range surfaceNames(points) {
		h.Surfaces = append(h.Surfaces, wireColumns{name, mapped(points, func(p Point) *float64 {
			if c, ok := p.Surfaces[name]; ok {
				return (*float64)(&c)
			}
			return nil
		})})
	}
	return h
}

// mostBeside is how many of what was done are sent at most, the newest.
const mostBeside = 400

func toDoings(c charted) []wireDoing {
	all := c.done[max(0, len(c.done)-mostBeside):]
	out := mapped(all, func(d Doing) wireDoing { return wireDoing{AtS: d.At.Unix(), Text: d.Text, Touch: d.Put == nil} })
	var shown []int
	for i, d := range all {
		if !d.At.Before(c.window.from) && !d.At.After(c.window.to) {
			shown = append(shown, i)
		}
	}
	for i, place := range newest(shown) {
		out[place].Mark = number(float64(i+1), 0)
	}
	return out
}

func (w words) toTold(c charted) []wireTold {
	marks := map[string]toldMark{}
	for _, m := range w.told(axis{from: c.window.from, to: c.window.to, location: w.location}, c.told) {
		marks[m.id] = m
	}
	return mapped(c.told, func(e alert.Episode) wireTold {
		m, t := marks[e.ID], wireTold{FromS: e.RaisedAt.Unix(), Title: w.inUnits(e.Title), Severity: e.Severity.String()}
		t.Mark, t.Row = m.Mark, m.row
		end := e.EndedAt.Unix()
		switch {
		case e.Once:
			t.ToS = &t.FromS
		case e.State == alert.Cleared:
			t.ToS = &end
		}
		return t
	})
}

// finite is nil for NaN, which JSON has no word for.
func finite(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}
