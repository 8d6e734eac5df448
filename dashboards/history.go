package dashboards

import (
	"cmp"
	"context"
	"net/http"
	"time"

	"recoat/internal/room"
	"recoat/sensors"
)

// wireHistory is a room's history for a chart: columns, null where nothing was
// measured.
type wireHistory struct {
	Unit     string        `json:"temperature_unit"` // what the page shows; values are in °C
	ZoneS    int64         `json:"zone_offset_s"`    // the shop's clock over UTC, at the end
	AtS      []int64       `json:"at_unix_s"`
	AirC     []*float64    `json:"air_c"`
	DewC     []*float64    `json:"dew_point_c"`
	RHPct    []*float64    `json:"rh_pct"`
	Surfaces []wireColumns `json:"surfaces"`
}

type wireColumns struct {
	Label    string     `json:"label"`
	SurfaceC []*float64 `json:"surface_c"`
}

// band returns a room's history with its gaps marked and its surfaces named as
// the finisher knows them.
func (s *server) band(ctx context.Context, snap room.Snapshot, sp span, now time.Time) ([]Point, error) {
	points, err := s.history.Band(ctx, snap.Room, now.Add(-sp.length), now)
	if err != nil {
		return nil, err
	}
	return named(withGaps(points), snap.Surfaces), nil
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
	now := s.now()
	sp := spanOf(r.URL.Query().Get("span"))
	points, err := s.band(r.Context(), snap, sp, now)
	if err != nil {
		s.log.Error("read history", "room", snap.Room, "err", err)
		http.Error(w, "The history cannot be read just now. The log says why.", http.StatusInternalServerError)
		return
	}
	h := toHistory(points)
	h.Unit = s.words.temperatureUnit()
	_, offset := now.In(s.words.location).Zone()
	h.ZoneS = int64(offset)
	s.json(w, h)
}

func toHistory(points []Point) wireHistory {
	h := wireHistory{
		AtS:      mapped(points, func(p Point) int64 { return p.At.Unix() }),
		AirC:     mapped(points, func(p Point) *float64 { return (*float64)(p.Air) }),
		DewC:     mapped(points, func(p Point) *float64 { return (*float64)(p.DewPoint) }),
		RHPct:    mapped(points, func(p Point) *float64 { return (*float64)(p.Humidity) }),
		Surfaces: []wireColumns{},
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
