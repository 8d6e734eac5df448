package audit

import (
	"time"

	"recoat/drying"
	"recoat/internal/seal"
	"recoat/internal/shop"
	"recoat/sensors/calibration"
)

// Evidence is all that is known of one coat.
type Evidence struct {
	Made     time.Time
	Coat     shop.Coat
	Room     string     // the finisher's name for it
	Moves    []Move     // of the part since the coat was put on
	Below    *shop.Coat // the coat under it; nil: none is recorded
	Above    *shop.Coat // the next one; nil: none yet
	Steps    []Step     // of the schedule, before the coat; nil: not recorded
	Moisture []shop.Moisture
	Touches  []shop.Touch
	Defects  []shop.Defect
	Edits    []Edit // what was changed of the coat after it was recorded
	Alerts   []Alert
	// Samples are the conditions on the part, corrected, in order of time, from a
	// day before the coat or from the coat below, whichever is earlier.
	Samples []drying.Sample
	Sources []Source
	Outside []drying.Sample // of the air outdoors; none: not known
	Seals   []seal.Seal     // of the days of the samples, and the journal's
	Sealing string          // why there is no seal; empty: there is
}

// Move is where a part came after its coat was put on.
type Move struct {
	At     time.Time
	Room   string // the finisher's name for it; empty: it left every room
	RoomID string
	Probe  string // empty: none
}

// Step is one of the finishing schedule.
type Step struct {
	Title   string
	Done    time.Time // zero: it was not
	Skipped time.Time // zero: it was not
}

// Edit is a change of the coat after it was recorded.
type Edit struct {
	At   time.Time
	Seq  int64 // of the journal's changes
	What string
}

// Alert is an episode that touched the coat, with what was sent of it.
type Alert struct {
	Title        string
	Rule         string
	Severity     string
	State        string
	Since, Ended time.Time
	Sent         []Sent
}

// Sent is one message of an alert.
type Sent struct {
	At      time.Time
	Channel string
	Status  string
	Cause   string
}

// Source is the channel that a quantity came from.
type Source struct {
	Quantity string // "air temperature", "relative humidity", "surface temperature"
	Room     string // the id of the room that the part was moved to; empty: the coat's own
	Node     string
	Channel  string
	Unit     string // of Sigma
	Sigma    float64
	// Check is what Sigma rests on; nil: never checked, and Sigma is the usual.
	Check   *calibration.Calibration
	CheckID string
	Overdue bool // the check was, when the coat was put on
}

// uncertainty is how well the conditions are known: as well as the worst of the
// sensors that the part was under.
func (e *Evidence) uncertainty() drying.Uncertainty {
	worst := map[string]float64{}
	for _, s := range e.Sources {
		worst[s.Quantity] = max(worst[s.Quantity], s.Sigma)
	}
	u := drying.TypicalUncertainty()
	if v, ok := worst[AirTemperature]; ok {
		u.Air = kelvins(v)
	}
	if v, ok := worst[Humidity]; ok {
		u.Humidity = humidity(v)
	}
	if v, ok := worst[SurfaceTemperature]; ok {
		u.Surface = kelvins(v)
	}
	return u
}

// The quantities of sources.
const (
	AirTemperature     = "air temperature"
	Humidity           = "relative humidity"
	SurfaceTemperature = "surface temperature"
)
