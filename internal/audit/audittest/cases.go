// Package audittest holds invented nights for the tests of the record: a clean
// one, dew at dawn, and a film put on too cold.
package audittest

import (
	"math"
	"strings"
	"time"

	"recoat/drying"
	"recoat/drying/air"
	"recoat/internal/audit"
	"recoat/internal/shop"
	"recoat/sensors"
	"recoat/sensors/calibration"
)

// Evening is when the coats went on.
var Evening = time.Date(2031, 5, 4, 19, 30, 0, 0, time.UTC)

const label = `
name = "Quiet Harbour colour coat"
family = "waterborne"
kind = "acrylic"
[stated]
air = "23C"
rh = 50
film = "100um"
touch = "30m"
sand = "3h"
recoat = "2h"
recoat_by = "72h"
handle = "12h"
cure = "21d"
[limits]
air_min = "10C"
air_max = "32C"
rh_max = 85
dew_margin_min = "3C"
film_forms_above = "8C"
`

// night is a room over time: air, humidity and surface at hours after Evening.
type night func(hours float64) (air, rh, surface float64)

// Clean is a coat in a warm, dry room with a probe that was checked.
func Clean() *audit.Evidence {
	e := evidence(func(h float64) (a, rh, s float64) {
		return 20 + math.Sin(h/4), 48 + 3*math.Sin(h/5), 19.6 + math.Sin((h-0.4)/4)
	}, time.Minute, 72*time.Hour)
	e.Steps = []audit.Step{{Title: "clean", Done: Evening.Add(-30 * time.Hour)}, {Title: "sand at 150, then 220", Done: Evening.Add(-4 * time.Hour)}, {Title: "tack cloth", Skipped: Evening.Add(-time.Hour)}}
	e.Moisture = []shop.Moisture{{ID: "w-0001", At: Evening.Add(-26 * time.Hour), WoodPct: 8.5, Note: "oak"}}
	e.Touches = []shop.Touch{{ID: "t-0001", At: Evening.Add(45 * time.Minute), Feel: shop.Tacky}, {ID: "t-0002", At: Evening.Add(3 * time.Hour), Feel: shop.Dry}}
	e.Alerts = []audit.Alert{{Title: "Linen press, top: can take the next coat", Rule: "ready", Severity: "info", State: "acknowledged", Since: Evening.Add(150 * time.Minute),
		Sent: []audit.Sent{{At: Evening.Add(151 * time.Minute), Channel: "phone", Status: "sent", Cause: "first"}}}}
	e.Outside = samples(func(h float64) (a, rh, s float64) { return 9 + 3*math.Sin(h/4), 80, 9 + 3*math.Sin(h/4) }, 10*time.Minute, 24*time.Hour, 0)
	return e
}

// bell is 1 at its middle and falls to both sides.
func bell(h, middle, width float64) float64 {
	d := (h - middle) / width
	return math.Exp(-d * d)
}

// Condensation is a coat whose surface fell below the dew point at dawn, in a
// room whose node was silent for a while; a haze was seen.
func Condensation() *audit.Evidence {
	e := evidence(func(h float64) (a, rh, s float64) {
		a = 15 - 5*bell(h, 9.5, 2.5)
		rh = 72 + 22*bell(h, 9.5, 3)
		return a, rh, a - 0.5 - 2.5*bell(h, 10, 1.5)
	}, time.Minute, 40*time.Hour)
	e.Sources[1].Check, e.Sources[1].CheckID, e.Sources[1].Sigma = nil, "", 2
	silent := func(s drying.Sample) bool {
		h := s.At.Sub(Evening).Hours()
		return h > 4 && h < 5.5
	}
	kept := e.Samples[:0]
	for _, s := range e.Samples {
		if !silent(s) {
			kept = append(kept, s)
		}
	}
	e.Samples = kept
	e.Defects = []shop.Defect{
		{ID: "d-0001", Coat: e.Coat.ID, Seen: Evening.Add(13 * time.Hour), Kind: "not-coalesced", Place: "left end of the top", Note: "dull and chalky along the edge", Photo: strings.Repeat("5e", 32)},
		{ID: "d-0002", Coat: e.Coat.ID, Seen: Evening.Add(13 * time.Hour), Kind: "crawling", Place: "one spot by the knob"},
	}
	e.Alerts = []audit.Alert{{Title: "Back room: dew is about to form", Rule: "unfit", Severity: "critical", State: "cleared", Since: Evening.Add(8 * time.Hour), Ended: Evening.Add(13 * time.Hour),
		Sent: []audit.Sent{{At: Evening.Add(8 * time.Hour), Channel: "phone", Status: "sent", Cause: "first"}, {At: Evening.Add(9 * time.Hour), Channel: "mail", Status: "failed", Cause: "escalated"}}}}
	e.Touches = []shop.Touch{{ID: "t-0001", At: Evening.Add(12 * time.Hour), Feel: shop.Tacky}}
	e.Edits = []audit.Edit{{At: Evening.Add(14 * time.Hour), Seq: 41, What: "note on the coat"}}
	return e
}

// ColdFilm is a coat put on at seven degrees by day's end, over a coat that was
// not dry, too thick, in a room without a probe on the piece.
func ColdFilm() *audit.Evidence {
	e := evidence(func(h float64) (a, rh, s float64) { a = 6.5 + 1.2*math.Sin(h/6); return a, 66, a }, time.Minute, 48*time.Hour)
	for i := range e.Samples {
		e.Samples[i].SurfaceMeasured = false
	}
	e.Sources = e.Sources[:2]
	e.Coat.Film, e.Coat.FilmLeast, e.Coat.FilmMost = 175, 150, 200
	e.Coat.Part.Probe, e.Coat.Warned, e.Coat.Reason = "", "the room is colder than the label allows", "had to be done today"
	below := e.Coat
	below.ID, below.Applied = "c-0006", Evening.Add(-5*time.Hour)
	e.Below = &below
	e.Defects = []shop.Defect{{ID: "d-0003", Coat: e.Coat.ID, Seen: Evening.Add(30 * time.Hour), Kind: "tacky", Place: "all over"}}
	return e
}

// Month is a record of thirty days, a reading every ten seconds.
func Month() *audit.Evidence {
	e := evidence(func(h float64) (a, rh, s float64) {
		return 17 + 4*math.Sin(h/3.82), 62 + 14*math.Sin(h/3.1), 16.5 + 4*math.Sin((h-0.6)/3.82)
	}, 10*time.Second, 30*24*time.Hour)
	e.Made = Evening.Add(30 * 24 * time.Hour)
	return e
}

func evidence(n night, every, length time.Duration) *audit.Evidence {
	p, err := shop.LoadProduct(strings.NewReader(label), "quiet-harbour.toml")
	if err != nil {
		panic("audittest: the label cannot be read: " + err.Error())
	}
	if p, err = p.Complete(); err != nil {
		panic("audittest: the label cannot be completed: " + err.Error())
	}
	check := calibration.Calibration{Node: "bench", Channel: sensors.Channel{Quantity: sensors.AirHumidity}, From: Evening.AddDate(0, -2, 0),
		Gain: 1.02, Offset: -0.7, Sigma: 0.85, Method: calibration.SaltTwo, Who: "A. Finisher", Due: Evening.AddDate(0, 10, 0)}
	return &audit.Evidence{
		Made: Evening.Add(length), Room: "Back room",
		Coat: shop.Coat{
			ID: "c-0007", PieceID: "p-0003", Piece: "Linen press", Part: shop.Part{ID: "p-0003.1", Name: "top", Material: "oak", ThicknessMM: 22, Room: "back-room", Probe: "28-0316a2791b5f"},
			Product: shop.Product{ID: "f-0002", Version: 1, Label: p}, Room: "back-room", Applied: Evening, Film: 110, Method: shop.Brush, Batch: "B-771", Mix: "5 % water", ThinnedPct: 5,
			UsedML: 180, Recorded: Evening.Add(2 * time.Minute),
		},
		Samples: samples(n, every, length, 24*time.Hour),
		Sources: []audit.Source{
			{Quantity: audit.AirTemperature, Node: "bench", Channel: "air-temperature", Unit: "K", Sigma: 0.3},
			{Quantity: audit.Humidity, Node: "bench", Channel: "relative-humidity", Unit: "%RH", Sigma: 0.85, Check: &check, CheckID: "k-0002"},
			{Quantity: audit.SurfaceTemperature, Node: "bench", Channel: "surface-temperature:28-0316a2791b5f", Unit: "K", Sigma: 0.5},
		},
	}
}

func samples(n night, every, length, lead time.Duration) []drying.Sample {
	var all []drying.Sample
	for t := -lead; t < length; t += every {
		a, rh, s := n(t.Hours())
		all = append(all, drying.Sample{At: Evening.Add(t), Conditions: drying.Conditions{
			Air: sensors.Celsius(a), Humidity: sensors.RelativeHumidity(rh), Surface: sensors.Celsius(s), SurfaceMeasured: true, Pressure: 101300,
		}})
	}
	return all
}

// Margin is the dew margin of a sample.
func Margin(s drying.Sample) float64 { return float64(s.Surface.Sub(air.DewPoint(s.Air, s.Humidity))) }
