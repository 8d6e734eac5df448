package dashboards

import (
	"context"
	"strings"
	"testing"
	"time"

	"recoat/drying"
	"recoat/internal/shop"
	"recoat/internal/shop/schedule"
)

// pressSchedules are those of the linen press: its doors and its top as they
// dry, and its carcass, which is put together once both can take it.
type pressSchedules struct{}

func (pressSchedules) OpenPieces(_ context.Context, room string) ([]string, error) {
	return map[string][]string{"back-room": {"q-0001"}, "attic": {"q-0002"}}[room], nil
}

func (pressSchedules) Piece(_ context.Context, id string) (shop.Piece, error) {
	return shop.Piece{ID: id, Name: map[string]string{"q-0001": "Linen press", "q-0002": "Blanket box"}[id]}, nil
}

func (pressSchedules) Schedules(_ context.Context, piece string) ([]schedule.Part, error) {
	if piece != "q-0001" {
		return []schedule.Part{{Number: 1, ID: "p-9", Name: "lid", Steps: []schedule.Step{{ID: 1, Kind: schedule.Clean}}}}, nil
	}
	recoat := schedule.At(drying.DryToRecoat)
	return []schedule.Part{
		{Number: 1, ID: "p-1", Name: "doors", Steps: []schedule.Step{
			{ID: 1, Kind: schedule.Colour}, {ID: 2, Kind: schedule.Sand, Grits: []int{320}, Waits: []schedule.Wait{{Step: 1, Stage: recoat}}},
		}, Marks: map[int]schedule.Mark{1: {Done: evening.Add(-50 * time.Minute), Coat: "c-0007"}}},
		{Number: 2, ID: "p-2", Name: "top", Steps: []schedule.Step{
			{ID: 1, Kind: schedule.Stain}, {ID: 2, Kind: schedule.Topcoat, Waits: []schedule.Wait{{Step: 1, Stage: recoat}}},
		}, Marks: map[int]schedule.Mark{1: {Done: evening.Add(-3 * time.Hour), Coat: "c-0008"}}},
		{Number: 3, ID: "p-3", Name: "carcass", Steps: []schedule.Step{
			{ID: 1, Kind: schedule.Reassemble, Waits: []schedule.Wait{{Part: 1, Step: 1, Stage: recoat}, {Part: 2, Step: 1, Stage: recoat}}},
		}},
	}, nil
}

func TestTonightKnowsTheSchedulesAndTheirGates(t *testing.T) {
	h := New(Options{House: newHouse(twoCoats(evening)), Schedules: pressSchedules{}, Location: shopZone, Now: func() time.Time { return evening }})
	w := get(h, "/")
	wantProse(t, w, "Linen press, doors: sand at 320", "Linen press, carcass: reassemble", "Waits for more than one part.", "not before 07:05")
	if page := w.Body.String(); strings.Contains(page, "Blanket box") {
		t.Error("a part in another room is told of")
	}
	if got := strings.Count(w.Body.String(), "Linen press, doors: sand at 320"); got != 1 {
		t.Errorf("the doors' next step is told %d times, want once", got)
	}
}

// A paint may be sanded later than it may be recoated: a step that waits for the
// sanding is told for then, as on the bench.
func TestAStepIsNotToldBeforeItsScheduleLetsIt(t *testing.T) {
	w := words{location: shopZone}
	e := drying.Estimate{Stage: drying.DryToRecoat, Likely: evening.Add(time.Hour)}
	told := step{at: e.Likely, What: "doors: sand at 320", Acts: []act{{"Touch test", "#"}, {"Note the next coat", "#bench"}}}
	d := due{Next: schedule.Next{Known: true, Low: evening.Add(2 * time.Hour), Likely: evening.Add(3 * time.Hour), High: evening.Add(4 * time.Hour),
		Waits: []schedule.Waiting{{Text: "not sandable yet"}}}}
	got := w.notBefore(told, d, e, evening)
	if !got.at.Equal(d.Likely) || len(got.Acts) != 1 || len(got.Why) != 2 || got.Why[1] != "Not sandable yet." {
		t.Errorf("%+v", got)
	}
	d.Likely = e.Likely
	if same := w.notBefore(told, d, e, evening); !same.at.Equal(e.Likely) || len(same.Acts) != 2 {
		t.Errorf("%+v", same)
	}
}
