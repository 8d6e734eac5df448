package display

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/drying"
	"recoat/internal/alert"
	"recoat/internal/room"
	"recoat/internal/telemetry"
)

var shop = time.FixedZone("", 3600)

func coat(piece, part string, stage drying.Stage, in time.Duration, blocked ...drying.Reason) room.CoatNow {
	return room.CoatNow{Piece: piece, Part: part, Next: 1, Estimates: []drying.Estimate{
		{}, {Stage: stage, Likely: evening.Add(in), Blocked: blocked},
	}}
}

func snapshot() room.Snapshot {
	return room.Snapshot{
		Room: "back-room", At: evening.UTC(), Verdict: drying.Verdict{State: drying.Caution},
		Surfaces: []room.SurfaceNow{{Margin: 5.26}, {Margin: 3.44}},
		Coats: []room.CoatNow{
			coat("Hall table", "", drying.Handle, 9*time.Hour), coat("Linen press", "doors", drying.DryToRecoat, 7*time.Hour),
			coat("Stool", "seat", drying.DryToRecoat, time.Hour, drying.Reason{}), {Piece: "Chest", Next: -1},
		},
		Alerts: []alert.Episode{{State: alert.Raised}, {State: alert.Acknowledged}},
	}
}

// The display is told of the coldest surface and of what comes first, at the
// shop's hour; a stage that is blocked has no hour.
func TestWordsOfARoom(t *testing.T) {
	m := 3.4
	want := telemetry.Display{
		At: evening, Verdict: "caution", Margin: &m, Alerts: 1,
		Next: &telemetry.Next{What: "Linen press, doors", Stage: "recoat", At: evening.Add(7 * time.Hour)},
	}
	if diff := cmp.Diff(want, Words(snapshot(), shop)); diff != "" {
		t.Error(diff)
	}
	empty := Words(room.Snapshot{At: evening}, shop)
	if empty.Margin != nil || empty.Next != nil || empty.Verdict != "unknown" {
		t.Errorf("%+v", empty)
	}
	for _, d := range []telemetry.Display{want, empty} {
		if _, err := d.Encode(); err != nil {
			t.Error(err)
		}
	}
}

func TestEveryStageHasAWordThatFits(t *testing.T) {
	for s := range drying.Stage(drying.StageCount) {
		d := Words(room.Snapshot{At: evening, Coats: []room.CoatNow{coat("Stool", "", s, time.Hour)}}, shop)
		if _, err := d.Encode(); err != nil {
			t.Errorf("%s: %v", s, err)
		}
	}
}

// hall is a hub with one room.
type hall struct {
	room    room.Snapshot
	changed chan struct{}
}

func (h *hall) Snapshots() []room.Snapshot            { return []room.Snapshot{h.room} }
func (h *hall) Watch(context.Context) <-chan struct{} { return h.changed }

func TestTheHubSpeaksWhenSomethingChangesAndOnceAMinute(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h, out := &hall{snapshot(), make(chan struct{}, 1)}, make(chan telemetry.Told, 100)
		ctx, cancel := context.WithCancel(t.Context())
		ended := make(chan error, 1)
		go func() { ended <- Speaker{Rooms: h, Location: shop, Out: out}.Run(ctx) }()
		time.Sleep(10*time.Minute + time.Second)
		if n := len(out); n < 9 || n > 11 {
			t.Errorf("%d words in ten quiet minutes, want one a minute", n)
		}
		for len(out) > 0 {
			<-out
		}
		h.room.Verdict.State = drying.Fit
		h.changed <- struct{}{}
		time.Sleep(sooner + time.Second)
		if len(out) == 0 {
			t.Fatal("a change is not told")
		}
		if told := <-out; told.Room != "back-room" || told.Display.Verdict != "fit" {
			t.Errorf("%+v", told)
		}
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
}
