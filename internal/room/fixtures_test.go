package room

import (
	"slices"
	"strconv"
	"testing"
	"time"

	"recoat/drying"
	"recoat/internal/alert"
	"recoat/sensors"
)

// evening is when the tests begin.
var evening = time.Date(2026, 3, 1, 18, 0, 0, 0, time.UTC)

// at is so long after evening, on both clocks.
func at(d time.Duration) alert.Instant { return alert.Instant{Wall: evening.Add(d), Mono: d} }

// counter gives episodes the IDs e1, e2, …
func counter() func() string {
	n := 0
	return func() string { n++; return "e" + strconv.Itoa(n) }
}

// workshop is a room with what it told.
type workshop struct {
	*Room
	told []string // "rule subject cause" of what a finisher hears
	all  []alert.Transition
	asks int // for the history to be read anew
}

func newRoom(resume ...alert.Episode) *workshop {
	return &workshop{Room: New(Config{
		Room: "back-room", Title: "Back room",
		Engine: alert.NewEngine(alert.EngineConfig{NewID: counter(), Resume: resume}),
	})}
}

// recorded is a room that makes no forecast.
func recorded() *workshop {
	return &workshop{Room: New(Config{Room: "back-room", NoForecast: true, Engine: alert.NewEngine(alert.EngineConfig{NewID: counter()})})}
}

// do steps the room and notes what it asks for.
func (w *workshop) do(e Event) {
	for _, effect := range w.Step(e) {
		switch effect := effect.(type) {
		case Notify:
			w.all = append(w.all, effect.Transitions...)
			for _, t := range effect.Transitions {
				if t.Cause != alert.Untold {
					w.told = append(w.told, t.Episode.Key.Rule+" "+t.Episode.Key.Subject+" "+t.Cause.String())
				}
			}
		case Reload:
			w.asks++
		}
	}
}

func (w *workshop) tick(d time.Duration)                  { w.do(Tick{at(d)}) }
func (w *workshop) hear(d time.Duration, r sensors.Round) { w.do(Arrived{at(d), r}) }
func (w *workshop) follow(jobs ...Job)                    { w.do(JobsChanged{jobs}) }
func (w *workshop) heard(rule string) []string {
	return slices.DeleteFunc(slices.Clone(w.told), func(s string) bool { return !hasRule(s, rule) })
}
func hasRule(told, rule string) bool { return len(told) > len(rule) && told[:len(rule)+1] == rule+" " }
func (w *workshop) estimate(t *testing.T, coat string, s drying.Stage) drying.Estimate {
	t.Helper()
	for _, c := range w.Snapshot().Coats {
		if e, ok := find(c.Estimates, s); ok && c.ID == coat {
			return e
		}
	}
	t.Fatalf("nothing is known of %s of coat %s", s, coat)
	return drying.Estimate{}
}

// minutely feeds one round a minute, from one time to before another.
func (w *workshop) minutely(from, to time.Duration, readings ...sensors.Reading) {
	for d := from; d < to; d += time.Minute {
		w.hear(d, ours("bench", d, readings...))
	}
}

// label is an invented waterborne product, as its label states it.
func label(t *testing.T) drying.Product {
	t.Helper()
	p := drying.Product{
		Name: "Lime Walk colour coat", Family: drying.Waterborne, Kind: "acrylic",
		Stated: drying.Stated{Air: 23, Humidity: 50, Film: 100, RecoatBy: 72 * time.Hour},
		Limits: drying.Limits{AirMin: 10, AirMax: 32, HumidityMax: 85, DewMarginMin: 3},
	}
	p.Stated.Times[drying.SetToTouch] = 30 * time.Minute
	p.Stated.Times[drying.DryToRecoat] = 2 * time.Hour
	p.Stated.Times[drying.Handle] = 12 * time.Hour
	whole, err := p.Complete()
	if err != nil {
		t.Fatal(err)
	}
	return whole
}

// job is a coat put on so long after evening.
func job(t *testing.T, id string, applied time.Duration, probe string) Job {
	t.Helper()
	return Job{
		ID: id, Piece: "Hall table", Part: "top", Product: label(t), Film: 100,
		Applied: evening.Add(applied), Probe: probe, Cautions: []string{"Ventilate."},
	}
}

// ours is a round of one of our nodes, one for every second since evening.
func ours(node string, d time.Duration, readings ...sensors.Reading) sensors.Round {
	return sensors.Round{
		Node: node, Boot: "b1", Seq: uint64(d/time.Second) + 1<<20, ClockSet: true,
		Time: evening.Add(d), Uptime: d + 24*time.Hour, Readings: readings,
	}
}

func reading(q sensors.Quantity, probe string, v float64) sensors.Reading {
	return sensors.Reading{Channel: sensors.Channel{Quantity: q, Probe: probe}, Value: v}
}

func warm(v float64) sensors.Reading { return reading(sensors.AirTemperature, "", v) }
func damp(v float64) sensors.Reading { return reading(sensors.AirHumidity, "", v) }
func surfaceAt(probe string, v float64) sensors.Reading {
	return reading(sensors.SurfaceTemperature, probe, v)
}

func as(q sensors.Quality, x sensors.Reading) sensors.Reading { x.Quality = q; return x }
