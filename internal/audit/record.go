package audit

import (
	"crypto/sha256"
	"encoding/json"
	"math"
	"strconv"
	"time"

	"recoat/internal/seal"
	"recoat/sensors"
)

// Figure is a number as documents show it: to two decimals, the same in every
// format. A value that does not exist is null.
type Figure float64

// String returns the figure's digits, or a dash.
func (f Figure) String() string {
	v := math.Round(float64(f)*100) / 100
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "–"
	}
	if v == 0 {
		v = 0 // never "-0"
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

// MarshalJSON gives the same digits.
func (f Figure) MarshalJSON() ([]byte, error) {
	if s := f.String(); s != "–" {
		return []byte(s), nil
	}
	return []byte("null"), nil
}

// UnmarshalJSON is the inverse of MarshalJSON.
func (f *Figure) UnmarshalJSON(text []byte) error {
	if string(text) == "null" {
		*f = Figure(math.NaN())
		return nil
	}
	return json.Unmarshal(text, (*float64)(f))
}

func kelvins(v float64) sensors.Kelvins           { return sensors.Kelvins(v) }
func humidity(v float64) sensors.RelativeHumidity { return sensors.RelativeHumidity(v) }

// minutes of a duration.
func minutes(d time.Duration) Figure { return Figure(d.Minutes()) }

// Document is the record of a coat, or of a piece with all its coats.
type Document struct {
	Format string      `json:"format"` // always FormatName
	Schema int         `json:"schema"` // 1
	Title  string      `json:"title"`
	Made   time.Time   `json:"made_at"`
	Zone   string      `json:"zone"` // the shop's, in which texts are
	Coats  []Record    `json:"coats"`
	Seals  []seal.Seal `json:"seals"`
	// Sealing says why there are no seals, or what is not sealed.
	Sealing string `json:"sealing,omitempty"`
	// Evidence is the digest of the readings that the document rests on, as the
	// CSV holds them.
	Evidence seal.Digest `json:"evidence_sha256"`
	Digest   seal.Digest `json:"sha256"` // of all of the above
}

// FormatName tells a document from any other JSON.
const FormatName = "recoat record"

// Reckon returns the digest that the document's other fields give.
func (d Document) Reckon() (seal.Digest, error) {
	d.Digest = seal.Digest{}
	text, err := json.Marshal(d)
	return sha256.Sum256(text), err
}

// Record is what is said of one coat.
type Record struct {
	Coat        CoatFacts     `json:"coat"`
	Label       LabelFacts    `json:"label"`
	Preparation []StepFacts   `json:"preparation"` // empty: not recorded
	Moisture    []WoodFacts   `json:"wood_moisture"`
	Sensors     []SensorFacts `json:"sensors"`
	Windows     []Window      `json:"windows"`
	Stages      []StageFacts  `json:"stages"`
	Touches     []TouchFacts  `json:"touch_tests"`
	Criteria    []Criterion   `json:"criteria"`
	Happened    []Happened    `json:"happened"`
	Defects     []DefectFacts `json:"defects"`
	Alerts      []AlertFacts  `json:"alerts"`
	Outside     *AirFacts     `json:"outside_air"` // null: not known
	Edits       []EditFacts   `json:"edits"`
}

// CoatFacts is what was put on.
type CoatFacts struct {
	ID       string `json:"id"`
	Piece    string `json:"piece"`
	Part     string `json:"part"`
	Material string `json:"material"`
	Room     string `json:"room"`
	RoomID   string `json:"room_id"`
	// Moved are the rooms that the part went to after the coat was put on.
	Moved      []MoveFacts `json:"moved,omitempty"`
	Product    string      `json:"product"`
	Version    int64       `json:"label_version"`
	Family     string      `json:"family"`
	Kind       string      `json:"kind"`
	Applied    time.Time   `json:"applied_at"`
	Recorded   time.Time   `json:"recorded_at"`
	Undone     *time.Time  `json:"undone_at"`
	Method     string      `json:"method"`
	Batch      string      `json:"batch"`
	Mix        string      `json:"mix"`
	ThinnedPct *Figure     `json:"thinned_pct"`
	FilmUM     *Figure     `json:"film_um"` // null: not measured
	FilmLeast  *Figure     `json:"film_least_um"`
	FilmMost   *Figure     `json:"film_most_um"`
	UsedML     *Figure     `json:"used_ml"`
	Abraded    bool        `json:"abraded_before"`
	Below      string      `json:"below"` // empty: none is recorded
	BelowAt    *time.Time  `json:"below_applied_at"`
	Warned     string      `json:"warned"`
	Reason     string      `json:"reason"`
	Note       string      `json:"note"`
}

// MoveFacts is a move of the part into another room, or under another probe.
type MoveFacts struct {
	At     time.Time `json:"at"`
	Room   string    `json:"room"` // empty: none
	RoomID string    `json:"room_id"`
	Probe  string    `json:"probe"` // empty: none
}

// LabelFacts is the label as it stood when the coat was put on.
type LabelFacts struct {
	AirC     Figure       `json:"stated_air_c"`
	RHPct    Figure       `json:"stated_rh_pct"`
	FilmUM   *Figure      `json:"stated_film_um"`
	RecoatBy *Figure      `json:"recoat_by_min"`
	Limits   []LimitFacts `json:"limits"`
}

// LimitFacts is one limit of the label.
type LimitFacts struct {
	Key     string `json:"key"`
	Limit   Figure `json:"limit"`
	Unit    string `json:"unit"`
	Assumed bool   `json:"assumed"` // the label does not say: it is usual for the kind
}

// StepFacts is one step of the schedule before the coat.
type StepFacts struct {
	Title   string     `json:"title"`
	Done    *time.Time `json:"done_at"`
	Skipped *time.Time `json:"skipped_at"`
}

// WoodFacts is what a moisture meter said.
type WoodFacts struct {
	At      time.Time `json:"at"`
	WoodPct Figure    `json:"wood_pct"`
	DepthMM *Figure   `json:"depth_mm"`
	Note    string    `json:"note"`
}

// SensorFacts is where a quantity came from, and how well it is known.
type SensorFacts struct {
	Quantity string     `json:"quantity"`
	Room     string     `json:"room,omitempty"` // its id, after a move; empty: the one in which the coat was put on
	Node     string     `json:"node"`
	Channel  string     `json:"channel"`
	Unit     string     `json:"unit"`
	Sigma    Figure     `json:"standard_uncertainty"`
	Check    string     `json:"check"`  // its id; empty: never checked
	Method   string     `json:"method"` // empty: never checked
	Who      string     `json:"who"`
	From     *time.Time `json:"checked_at"`
	Due      *time.Time `json:"due_at"`
	Overdue  bool       `json:"overdue"`
	Gain     *Figure    `json:"gain"`
	Offset   *Figure    `json:"offset"`
}

// Range is the least, mean and greatest value over a window.
type Range struct {
	Min  Figure `json:"min"`
	Mean Figure `json:"mean"`
	Max  Figure `json:"max"`
}

// Window is what the coat went through over one span of time.
type Window struct {
	Name       string         `json:"name"`
	From       time.Time      `json:"from_at"`
	To         time.Time      `json:"to_at"`
	Ended      bool           `json:"ended"` // false: it goes on
	LastedMin  Figure         `json:"lasted_min"`
	CoveredMin Figure         `json:"covered_min"`
	ProbeMin   Figure         `json:"probe_min"` // of it: with a probe on the piece
	Gaps       []GapFacts     `json:"gaps"`
	Air        *Range         `json:"air_c"`     // null: nothing is covered
	Surface    *Range         `json:"surface_c"` // null too where no probe was on the piece throughout
	Humidity   *Range         `json:"rh_pct"`
	AtSurface  *Range         `json:"surface_rh_pct"`
	DewPoint   *Range         `json:"dew_point_c"`
	Margin     *Range         `json:"dew_margin_k"`
	MarginU    *Figure        `json:"dew_margin_expanded_k"` // of the least one, k = 2
	MarginAt   *time.Time     `json:"least_dew_margin_at"`
	Limits     []OutsideFacts `json:"limits"`
}

// GapFacts is a span of which nothing is known.
type GapFacts struct {
	From time.Time `json:"from_at"`
	To   time.Time `json:"to_at"`
	Min  Figure    `json:"min"`
}

// OutsideFacts is how a limit was kept.
type OutsideFacts struct {
	Code       string     `json:"code"`
	Limit      Figure     `json:"limit"`
	Unit       string     `json:"unit"`
	Worst      Figure     `json:"worst"`
	WorstAt    *time.Time `json:"worst_at"`
	OutsideMin Figure     `json:"outside_min"`
	Excess     Figure     `json:"unit_minutes"`
	LongestMin Figure     `json:"longest_min"`
	LongestAt  *time.Time `json:"longest_from_at"`
}

// StageFacts is a stage by the label, by the record, and by touch.
type StageFacts struct {
	Stage     string     `json:"stage"`
	StatedMin *Figure    `json:"stated_min"`
	Assumed   bool       `json:"assumed"`
	Reached   bool       `json:"reached"`
	Likely    *time.Time `json:"reckoned_at"`
	Low       *time.Time `json:"low_at"`
	High      *time.Time `json:"high_at"`
	TookMin   *Figure    `json:"reckoned_min"`
	Uncovered Figure     `json:"uncovered_min"`
	Blocked   []string   `json:"blocked"`
}

// TouchFacts is one touch test.
type TouchFacts struct {
	At       time.Time `json:"at"`
	AfterMin Figure    `json:"after_min"`
	Found    string    `json:"found"`
}

// Happened is a finding of the model.
type Happened struct {
	Code string    `json:"code"`
	From time.Time `json:"from_at"`
	To   time.Time `json:"to_at"`
	Text string    `json:"text"`
}

// AlertFacts is one alert, and what became of it.
type AlertFacts struct {
	Title    string      `json:"title"`
	Rule     string      `json:"rule"`
	Severity string      `json:"severity"`
	State    string      `json:"state"`
	Since    time.Time   `json:"since_at"`
	Ended    *time.Time  `json:"ended_at"`
	Sent     []SentFacts `json:"messages"`
}

// SentFacts is one message of an alert.
type SentFacts struct {
	At      time.Time `json:"at"`
	Channel string    `json:"channel"`
	Status  string    `json:"status"`
	Cause   string    `json:"cause"`
}

// AirFacts is the air outdoors until the coat was dry to recoat.
type AirFacts struct {
	Air      Range `json:"air_c"`
	Humidity Range `json:"rh_pct"`
}

// EditFacts is a change of the coat after it was recorded.
type EditFacts struct {
	At   time.Time `json:"at"`
	Seq  int64     `json:"change"`
	What string    `json:"what"`
}
