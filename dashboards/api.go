package dashboards

import (
	"encoding/json"
	"net/http"
	"time"

	"recoat/drying"
	"recoat/internal/room"
)

// wireRoom is one room in JSON. Keys end in their unit; instants in "_at".
type wireRoom struct {
	Room         string         `json:"room"`
	Title        string         `json:"title"`
	At           time.Time      `json:"reckoned_at"`
	Verdict      drying.Verdict `json:"verdict"`
	Air          *wireAir       `json:"air"` // null while no good reading is recent enough
	Surfaces     []wireSurface  `json:"surfaces"`
	MarginLimitC float64        `json:"dew_margin_limit_c"`
	Margin       []wireMargin   `json:"dew_margin"`
	Coats        []wireCoat     `json:"coats"`
	Nodes        []wireNode     `json:"nodes"`
	Alerts       []wireAlert    `json:"alerts"`
}

type wireAir struct {
	ReadAt      time.Time `json:"read_at"`
	AirC        float64   `json:"air_c"`
	HumidityPct float64   `json:"rh_pct"`
	DewPointC   float64   `json:"dew_point_c"`
	WetBulbC    float64   `json:"wet_bulb_c"`
	PressureHPa float64   `json:"pressure_hpa,omitempty"`
	AbsoluteGM3 float64   `json:"absolute_humidity_g_m3"`
	WoodEMCPct  float64   `json:"wood_emc_pct"`
}

type wireSurface struct {
	Probe        string    `json:"probe"`
	Label        string    `json:"label"`
	ReadAt       time.Time `json:"read_at"`
	SurfaceC     float64   `json:"surface_c"`
	MarginC      float64   `json:"dew_margin_c"`
	SigmaC       float64   `json:"dew_margin_sigma_c"`
	AtSurfacePct float64   `json:"surface_rh_pct"`
	Measured     bool      `json:"measured"`
}

type wireMargin struct {
	At        time.Time `json:"at"`
	MarginC   *float64  `json:"dew_margin_c"` // null in a gap
	LowC      *float64  `json:"low_c,omitempty"`
	HighC     *float64  `json:"high_c,omitempty"`
	Projected bool      `json:"projected"`
}

type wireCoat struct {
	ID       string      `json:"id"`
	Piece    string      `json:"piece"`
	Part     string      `json:"part"`
	Product  string      `json:"product"`
	Step     string      `json:"step,omitempty"`
	Applied  time.Time   `json:"applied_at"`
	FilmUm   float64     `json:"film_um"`
	Pace     float64     `json:"pace"`
	Next     string      `json:"next_stage,omitempty"`
	RecoatBy *time.Time  `json:"recoat_by_at,omitempty"`
	Stages   []wireStage `json:"stages"`
	Then     *wireThen   `json:"next_coat,omitempty"`
	Lesson   string      `json:"learnt,omitempty"`
	Odour    *wireOdour  `json:"without_smell,omitempty"`
}

// wireOdour is when a coat is likely without smell.
type wireOdour struct {
	Likely time.Time `json:"likely_at"`
	Low    time.Time `json:"low_at"`
	High   time.Time `json:"high_at"`
	Basis  string    `json:"basis"`
}

// wireThen is go or wait for another coat of the same product.
type wireThen struct {
	At       time.Time  `json:"at"`
	Chance   float64    `json:"chance"`
	Good     bool       `json:"good"`
	Fails    string     `json:"fails,omitempty"`
	NextGood *time.Time `json:"next_good_at,omitempty"`
}

type wireStage struct {
	Stage     drying.Stage    `json:"stage"`
	StatedMin float64         `json:"stated_min"`
	Assumed   bool            `json:"assumed"`
	Reached   bool            `json:"reached"`
	Likely    *time.Time      `json:"ready_at"` // null where no time can be given
	Low       *time.Time      `json:"low_at"`
	High      *time.Time      `json:"high_at"`
	Blocked   []drying.Reason `json:"blocked"`
	Doubts    []drying.Reason `json:"doubts,omitempty"`
}

type wireNode struct {
	Node    string     `json:"node"`
	Heard   *time.Time `json:"heard_at"` // null: never
	Silent  bool       `json:"silent"`
	Missing []string   `json:"missing_channels"`
	Suspect []string   `json:"suspect_channels"`
}

type wireAlert struct {
	ID       string    `json:"id"`
	Rule     string    `json:"rule"`
	State    string    `json:"state"`
	Severity string    `json:"severity"`
	Title    string    `json:"title"`
	Body     string    `json:"body"`
	Since    time.Time `json:"since_at"`
}

func (s *server) apiRooms(w http.ResponseWriter, _ *http.Request) {
	s.json(w, struct {
		Rooms []wireRoom `json:"rooms"`
	}{wireRooms(s.house.Snapshots())})
}

func (s *server) json(w http.ResponseWriter, v any) {
	body, err := json.Marshal(v)
	if err != nil {
		s.log.Error("encode JSON", "err", err)
		http.Error(w, "This document could not be made. The log says why.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(append(body, '\n')) // the asker may be gone; nothing is left to do
}

func wireRooms(snapshots []room.Snapshot) []wireRoom {
	rooms := make([]wireRoom, 0, len(snapshots))
	for _, s := range snapshots {
		rooms = append(rooms, wireRoom{
			Room: s.Room, Title: s.Title, At: s.At, Verdict: s.Verdict,
			Air: toAir(s.Air), Surfaces: mapped(s.Surfaces, toSurface),
			MarginLimitC: float64(s.Limit), Margin: mapped(s.Margin, toMargin),
			Coats: mapped(s.Coats, toCoat), Nodes: mapped(s.Nodes, toNode),
			Alerts: mapped(s.Alerts, toAlert),
		})
	}
	return rooms
}
