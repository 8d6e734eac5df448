package dashboards

import (
	"context"
	"math"
	"sync"
	"time"

	"recoat/drying"
	"recoat/internal/alert"
	"recoat/internal/room"
	"recoat/sensors"
)

// shopZone is the shop's local time in every test.
var shopZone = time.FixedZone("shop", 3600)

// evening is a Tuesday at 21:40 in the shop.
var evening = time.Date(2026, 3, 10, 21, 40, 0, 0, shopZone)

// fakeHouse is a House of plain data. Set changes it, as a round would.
type fakeHouse struct {
	mu       sync.Mutex
	rooms    []room.Snapshot
	watchers map[chan struct{}]bool
}

func newHouse(rooms ...room.Snapshot) *fakeHouse {
	return &fakeHouse{rooms: rooms, watchers: map[chan struct{}]bool{}}
}

func (h *fakeHouse) Snapshots() []room.Snapshot {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.rooms
}

func (h *fakeHouse) Watch(ctx context.Context) <-chan struct{} {
	c := make(chan struct{}, 1)
	h.mu.Lock()
	defer h.mu.Unlock()
	h.watchers[c] = true
	context.AfterFunc(ctx, func() {
		h.mu.Lock()
		defer h.mu.Unlock()
		delete(h.watchers, c)
	})
	return c
}

func (h *fakeHouse) Set(rooms ...room.Snapshot) { h.SetEach(rooms) }

// SetEach changes the house time after time, faster than anybody can look.
func (h *fakeHouse) SetEach(states ...[]room.Snapshot) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for _, rooms := range states {
		h.rooms = rooms
		for c := range h.watchers {
			select {
			case c <- struct{}{}:
			default:
			}
		}
	}
}

func (h *fakeHouse) watching() int {
	h.mu.Lock()
	defer h.mu.Unlock()
	return len(h.watchers)
}

// fakeHistory is a smooth day, with a gap of an hour and a half in it.
type fakeHistory struct{ err error }

func (h fakeHistory) Band(_ context.Context, _ string, from, to time.Time) ([]Point, error) {
	if h.err != nil {
		return nil, h.err
	}
	var points []Point
	step := to.Sub(from) / 240
	for t := from; t.Before(to); t = t.Add(step) {
		if d := to.Sub(t); d > 2*time.Hour && d < 3*time.Hour+30*time.Minute {
			continue
		}
		day := 2 * math.Pi * float64(t.Unix()%86400) / 86400
		air := sensors.Celsius(18 + 2.5*math.Sin(day))
		dew := sensors.Celsius(10.5 + 0.6*math.Cos(day))
		rh := sensors.RelativeHumidity(60 - 9*math.Sin(day))
		points = append(points, Point{At: t, Air: &air, DewPoint: &dew, Humidity: &rh, Surfaces: map[string]sensors.Celsius{
			"28-0000000000a2": air - 1.8,
		}})
	}
	return points, nil
}

// quietHarbour is the invented colour coat of the tests, as its label states it.
func quietHarbour() drying.Product {
	return drying.Product{
		Name: "Quiet Harbour colour coat", Family: drying.Waterborne, Kind: "acrylic",
		Stated: drying.Stated{Air: 23, Humidity: 50, Film: 100, RecoatBy: 72 * time.Hour, Times: [drying.StageCount]time.Duration{drying.DryToRecoat: 2 * time.Hour}},
	}
}

// fakeDoings is a coat on the doors and a touch test on it.
type fakeDoings struct{}

func (fakeDoings) Doings(_ context.Context, _ string, _, _ time.Time) ([]Doing, error) {
	put := evening.Add(-50 * time.Minute)
	product, err := quietHarbour().Complete()
	if err != nil {
		return nil, err
	}
	return []Doing{
		{At: put, Coat: "c-0007", Text: "Linen press, doors: Quiet Harbour colour coat", Put: &drying.Coat{Product: product, Applied: put}},
		{At: evening.Add(-10 * time.Minute), Coat: "c-0007", Text: "Linen press, doors: found tacky by touch"},
	}, nil
}

// fakeTold is a warning that is over, news told once, and an alert that stands.
type fakeTold struct{}

func (fakeTold) Told(_ context.Context, _ string, _, to time.Time) ([]alert.Episode, error) {
	return []alert.Episode{
		{ID: "t1", Key: alert.Key{Rule: "forecast"}, State: alert.Cleared, Severity: alert.Warning, Title: "Dew margin falls under 3 K tonight", RaisedAt: to.Add(-5 * time.Hour), EndedAt: to.Add(-150 * time.Minute)},
		{ID: "t2", Key: alert.Key{Rule: "ready"}, State: alert.Raised, Severity: alert.Info, Once: true, Title: "Touch test, then recoat: Linen press, top", RaisedAt: to.Add(-270 * time.Minute)},
		{ID: "t3", Key: alert.Key{Rule: "unfit"}, State: alert.Raised, Severity: alert.Critical, Title: "Near the dew point: Linen press, doors. Warm it.", RaisedAt: to.Add(-40 * time.Minute)},
	}, nil
}

// margins run from two hours before to fourteen after, every ten minutes:
// 5.6 K now, least at 04:00, back up in the morning.
func margins(at time.Time, least sensors.Kelvins) []room.MarginPoint {
	var out []room.MarginPoint
	low := at.Add(6*time.Hour + 20*time.Minute)
	for t := at.Add(-2 * time.Hour); !t.After(at.Add(14 * time.Hour)); t = t.Add(10 * time.Minute) {
		far := t.Sub(low).Hours() / 6.33
		m := least + (5.6-least)*sensors.Kelvins(math.Min(far*far, 1.4))
		p := room.MarginPoint{At: t, Margin: m, Known: true, Projected: t.After(at)}
		if p.Projected {
			wide := sensors.Kelvins(0.3 + 0.06*t.Sub(at).Hours())
			p.Low, p.High = m-wide, m+wide
		}
		out = append(out, p)
	}
	return out
}

// backRoom is a room fit to coat, with nothing in it.
func backRoom(at time.Time) room.Snapshot {
	return room.Snapshot{
		Room: "back-room", Title: "Back room", At: at,
		Air: &room.AirNow{
			ReadAt: at.Add(-6 * time.Second), Air: 19.4, Humidity: 58, DewPoint: 10.9, WetBulb: 14.4,
			Pressure: 100900, AbsoluteGM3: 9.7, WoodEMC: 10.6,
		},
		Surfaces: []room.SurfaceNow{
			{Probe: "28-0000000000a1", Label: "Linen press, top", ReadAt: at, Surface: 18.1, Margin: 7.2, Sigma: 0.7, AtSurface: 63, Measured: true},
			{Probe: "28-0000000000a2", Label: "Linen press, side", ReadAt: at, Surface: 16.5, Margin: 5.6, Sigma: 0.7, AtSurface: 70, Measured: true},
		},
		Verdict: drying.Verdict{State: drying.Fit, Reasons: []drying.Reason{
			{Code: "dew-margin", Value: 5.6, Limit: 3, Unit: "K", Text: "the dew margin is 5.6 K, over the 3 K it needs"},
			{Code: "humid", Value: 58, Limit: 85, Unit: "%RH", Text: "the humidity is 58 %, under the label's 85 %"},
		}},
		Margin: margins(at, 2.2),
		Limit:  3, Limits: drying.DefaultLimits(),
		Nodes: []room.NodeNow{{Node: "press-side", Heard: at.Add(-6 * time.Second)}},
	}
}

// doors are a colour coat, ready at 03:25; top is a stain, ready at 07:05.
func doors(at time.Time) room.CoatNow {
	return room.CoatNow{
		ID: "c-0007", Piece: "Linen press", Part: "doors", Product: "Quiet Harbour colour coat", Step: "colour 1 of 2",
		Applied: at.Add(-50 * time.Minute), Film: 100, Stated: quietHarbour().Stated, Pace: 0.68, Next: 1, RecoatBy: at.Add(71 * time.Hour),
		Estimates: []drying.Estimate{
			{Stage: drying.SetToTouch, Stated: 30 * time.Minute, Assumed: true, Reached: true, Done: 1, Gained: 1, Likely: at.Add(-5 * time.Minute), Low: at.Add(-15 * time.Minute), High: at.Add(5 * time.Minute)},
			{Stage: drying.DryToRecoat, Stated: 2 * time.Hour, Pace: 0.68, Done: 0.3, Gained: 0.3, Likely: at.Add(345 * time.Minute), Low: at.Add(300 * time.Minute), High: at.Add(400 * time.Minute)},
		},
	}
}

func top(at time.Time) room.CoatNow {
	return room.CoatNow{
		ID: "c-0008", Piece: "Linen press", Part: "top", Product: "Low Tide oil stain", Step: "stain",
		Applied: at.Add(-3 * time.Hour), Film: 40, Pace: 0.8, Next: 0,
		Estimates: []drying.Estimate{
			{Stage: drying.DryToRecoat, Stated: 8 * time.Hour, Assumed: true, Pace: 0.8, Done: 0.3, Likely: at.Add(565 * time.Minute), Low: at.Add(480 * time.Minute), High: at.Add(690 * time.Minute)},
		},
		Cautions: []string{"oily rags heat themselves and can catch fire: spread each one flat outdoors, or sink it in water in a lidded can"},
	}
}

// twoCoats is the room of an evening with work going on.
func twoCoats(at time.Time) room.Snapshot {
	s := backRoom(at)
	s.Coats = []room.CoatNow{doors(at), top(at)}
	s.Alerts = []alert.Episode{{
		ID: "a-3", Key: alert.Key{Rule: "forecast", Room: s.Room}, State: alert.Raised, Severity: alert.Warning,
		Title: "Back room: dew margin falls under 3 K tonight", Body: "Keep the stove in, or leave the doors' second coat for the morning.", Since: at.Add(-20 * time.Minute),
	}}
	return s
}

// dampRoom is unfit, and its one coat stands still.
func dampRoom(at time.Time) room.Snapshot {
	s := backRoom(at)
	s.Air.Air, s.Air.Humidity, s.Air.DewPoint = 9.1, 91, 7.7
	s.Surfaces = []room.SurfaceNow{{Probe: "28-0000000000a2", Label: "Linen press, side", ReadAt: at, Surface: 7.2, Margin: -0.5, Sigma: 0.7, AtSurface: 100, Measured: true}}
	s.Verdict = drying.Verdict{State: drying.Unfit, Reasons: []drying.Reason{
		{Code: "dew-margin", Value: -0.5, Limit: 3, Unit: "K", Text: "The coldest surface is 0.5 K below the dew point; it must be 3 K above it."},
		{Code: "air-cold", Value: 9.1, Limit: 10, Unit: "Cel", Text: "The air is 9.1 °C; the label asks for 10 °C or more."},
		{Code: "humid", Value: 91, Limit: 85, Unit: "%RH", Text: "The humidity is 91 %; the label allows 85 %."},
	}}
	for i := range s.Margin {
		s.Margin[i].Margin -= 6.1
		s.Margin[i].Low -= 6.1
		s.Margin[i].High -= 6.1
	}
	c := doors(at)
	c.Pace = 0
	c.Estimates[1] = drying.Estimate{Stage: drying.DryToRecoat, Stated: 2 * time.Hour, Blocked: []drying.Reason{
		{Code: "film-cold", Value: 7.2, Limit: 8, Unit: "Cel", Text: "the surface is 7.2 °C; below 8 °C this film does not form"},
	}}
	s.Coats = []room.CoatNow{c}
	return s
}

// silentRoom has heard nothing since 20:12.
func silentRoom(at time.Time) room.Snapshot {
	s := backRoom(at)
	s.Air, s.Surfaces = nil, nil
	s.Verdict = drying.Verdict{}
	for i := range s.Margin {
		if s.Margin[i].Projected || s.Margin[i].At.After(at.Add(-88*time.Minute)) {
			s.Margin[i] = room.MarginPoint{At: s.Margin[i].At}
		}
	}
	s.Nodes = []room.NodeNow{{Node: "press-side", Heard: at.Add(-88 * time.Minute), Silent: true}}
	s.Coats = []room.CoatNow{doors(at)}
	return s
}
