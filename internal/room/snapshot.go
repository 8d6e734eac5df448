package room

import (
	"time"

	"recoat/drying"
	"recoat/drying/odour"
	"recoat/internal/alert"
	"recoat/sensors"
)

// Snapshot is everything known of one room at one instant, as plain data: what
// the pages show and the JSON holds.
type Snapshot struct {
	Room     string // identifier, as in topics
	Title    string // the finisher's name for it
	At       time.Time
	Starting bool    // the hub has only just begun to listen, and heard nobody yet
	Air      *AirNow // nil while no good reading is recent enough
	Surfaces []SurfaceNow
	Verdict  drying.Verdict
	Coats    []CoatNow
	Margin   []MarginPoint // past and projected, oldest first
	Limit    sensors.Kelvins
	Limits   drying.Limits // the room's own, where no product is in question
	Ahead    Courses       // the courses the room may take; nil: no forecast yet
	Nodes    []NodeNow
	Alerts   []alert.Episode // raised or acknowledged, newest first
}

// Courses are the ways a room may go, by its forecast, each as likely as the
// other. They are only read, and any number of readers may share them.
type Courses interface {
	Start() time.Time
	Step() time.Duration
	Steps() int
	Members() int
	Conditions(member, step int) drying.Conditions
}

// AirNow is the state of the air at the last good reading.
type AirNow struct {
	ReadAt      time.Time
	Air         sensors.Celsius
	Humidity    sensors.RelativeHumidity
	DewPoint    sensors.Celsius
	WetBulb     sensors.Celsius
	Pressure    sensors.Pascals // 0: not measured
	AbsoluteGM3 float64         // water, g per m³ of air
	WoodEMC     float64         // where the wood is heading, per cent
}

// SurfaceNow is one surface and how far it is from condensation. Measured is
// false where the surface was reckoned from the air.
type SurfaceNow struct {
	Probe     string
	Label     string // piece and part where known, else the probe
	ReadAt    time.Time
	Surface   sensors.Celsius
	Margin    sensors.Kelvins // surface minus dew point
	Sigma     sensors.Kelvins // standard uncertainty of Margin
	AtSurface sensors.RelativeHumidity
	Measured  bool
}

// CoatNow is a coat on its way. Next points into Estimates: the stage the
// finisher waits for, -1 when none is left.
type CoatNow struct {
	ID        string
	Piece     string
	Part      string
	Product   string
	Step      string // "colour 1 of 2", empty outside a schedule
	Applied   time.Time
	Film      drying.Microns
	Stated    drying.Stated // what its label says
	Pace      float64
	Stalled   []drying.Reason
	Estimates []drying.Estimate
	Next      int
	RecoatBy  time.Time    // the recoat window closes; zero: no such limit
	Then      *Then        // go or wait for the next coat; nil where there is no forecast
	Odour     *odour.Ready // when it is likely without smell; nil: cannot be said
	Lesson    string       // what touch tests taught, empty: nothing
	Cautions  []string     // what the product's family calls for
}

// MarginPoint is the dew margin at one instant, Low to High where it is
// projected. Known is false in a gap of the record.
type MarginPoint struct {
	At        time.Time
	Margin    sensors.Kelvins
	Low, High sensors.Kelvins
	Projected bool
	Known     bool
}

// NodeNow is what is known of one node of the room.
type NodeNow struct {
	Node    string
	Heard   time.Time // when the hub last took a round from it
	Silent  bool
	Away    bool              // its connection is lost
	Missing []sensors.Channel // channels that gave nothing in the last round
	Suspect []sensors.Channel
}
