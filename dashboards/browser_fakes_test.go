package dashboards

import (
	"context"
	"io"
	"net/http/httptest"
	"testing"
	"time"

	"recoat/internal/access"
	"recoat/internal/shop"
	"recoat/sensors"
	"recoat/sensors/calibration"
)

// ownersGate lets everybody in as the owner, without asking.
type ownersGate struct{ fakeGate }

func (*ownersGate) Visitor(context.Context, string) (access.Visitor, bool) {
	return access.Visitor{Name: "mona", Role: access.Owner}, true
}

// fakeChecks has a sensor that was checked, one whose check is overdue and one
// that never was. A check comes to rest at once.
type fakeChecks struct{}

func (fakeChecks) Sensors(context.Context) ([]Sensor, error) {
	check := func(c sensors.Channel, from time.Time) *shop.Calibration {
		return &shop.Calibration{ID: "k-0001", Room: "back-room", Measure: c.String(), Calibration: calibration.Calibration{
			Node: "press-side", Channel: c, From: from, Gain: 1, Offset: -1.4, Sigma: 1.1, Method: calibration.SaltOne, Who: "mona", Due: from.AddDate(1, 0, 0),
		}}
	}
	humidity, air := sensors.Channel{Quantity: sensors.AirHumidity}, sensors.Channel{Quantity: sensors.AirTemperature}
	surface := sensors.Channel{Quantity: sensors.SurfaceTemperature, Probe: "28-0000000000a2"}
	return []Sensor{
		{Room: "back-room", Node: "press-side", Channel: humidity, Last: evening, Check: check(humidity, evening.AddDate(0, -2, 0))},
		{Room: "back-room", Node: "press-side", Channel: air, Last: evening, Check: check(air, evening.AddDate(-2, 0, 0))},
		{Room: "back-room", Node: "press-side", Channel: surface, Last: evening},
	}, nil
}

func (fakeChecks) Look(_ context.Context, c Check, _ time.Time) (CheckState, error) {
	var s CheckState
	for _, p := range c.Points {
		s.Points = append(s.Points, PointState{CheckPoint: p, Progress: calibration.Progress{Why: "It has stood for 2 hours, and needs 8", Left: 6 * time.Hour}, Truth: 75.5})
	}
	return s, nil
}

func (fakeChecks) Keep(context.Context, Check, time.Time) (shop.Calibration, error) {
	return shop.Calibration{}, nil
}

// fakeBackup is a journal of nothing.
type fakeBackup struct{}

func (fakeBackup) Backup(_ context.Context, w io.Writer) error {
	_, err := io.WriteString(w, "{}\n")
	return err
}

// serveAll starts the pages with all that a hub gives them, so that every page
// is there and has something to say.
func serveAll(t testing.TB, house *fakeHouse) string {
	t.Helper()
	start := time.Now()
	alerts := &fakeAlerts{board: fullBoard()}
	server := httptest.NewServer(New(Options{
		House: house, History: fakeHistory{}, Doings: fakeDoings{}, Told: fakeTold{}, Location: shopZone,
		Book: filledBook(t), Schedules: pressSchedules{}, Records: &fakeRecords{}, Checks: fakeChecks{}, Backup: fakeBackup{},
		Setup:  Setup{File: "recoat.toml", Channels: []string{"phone"}, Second: []string{"mail"}},
		Alerts: alerts, Previewer: alerts, Acknowledge: func(string) bool { return true },
		Gate: &ownersGate{fakeGate{claimed: true}}, People: fakePeople{}, Authority: []byte("x"),
		Now: func() time.Time { return evening.Add(time.Since(start)) },
	}))
	t.Cleanup(server.Close)
	return server.URL
}
