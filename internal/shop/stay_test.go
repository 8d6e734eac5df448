package shop

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func TestStaysFollowAPartFromRoomToRoom(t *testing.T) {
	j := furnished(t)
	if err := j.AddRoom(t.Context(), Room{ID: "attic", Title: "Attic"}, evening); err != nil {
		t.Fatal(err)
	}
	const probe = "28-0316a2791b5f"
	if err := j.PlacePart(t.Context(), "p-0001.2", "attic", "", evening.Add(-time.Hour)); err != nil { // before any coat
		t.Fatal(err)
	}
	c := apply(t, j, "p-0001.2", evening)
	stays := func() []Stay {
		t.Helper()
		all, err := j.Stays(t.Context(), c)
		if err != nil {
			t.Fatal(err)
		}
		return all
	}
	want := []Stay{{From: evening, Room: "attic"}}
	if diff := cmp.Diff(want, stays()); diff != "" {
		t.Errorf("a part that lay still (-want +got):\n%s", diff)
	}
	if err := j.PlacePart(t.Context(), "p-0001.1", "back-room", "", evening); err != nil {
		t.Fatal(err)
	}
	for i, to := range [][2]string{{"back-room", ""}, {"back-room", probe}, {"", ""}, {"attic", ""}} {
		at := evening.Add(time.Duration(i+1) * time.Hour)
		if err := j.PlacePart(t.Context(), "p-0001.2", to[0], to[1], at); err != nil {
			t.Fatal(err)
		}
		want = append(want, Stay{From: at, Room: to[0], Probe: to[1]})
	}
	if diff := cmp.Diff(want, stays()); diff != "" {
		t.Errorf("moved (-want +got):\n%s", diff)
	}
	joined := []Stay{want[0], {want[1].From, "back-room", probe}, want[3], want[4]}
	if diff := cmp.Diff(joined, JoinProbes(stays())); diff != "" {
		t.Errorf("a probe told of an hour late (-want +got):\n%s", diff)
	}
	later := apply(t, j, "p-0001.2", evening.Add(5*time.Hour))
	if all, err := j.Stays(t.Context(), later); err != nil || len(all) != 1 || all[0].Room != "attic" {
		t.Errorf("moves before the coat: %+v, %v", all, err)
	}
	at := evening.Add(150 * time.Minute)
	edited, err := j.EditCoat(t.Context(), c.ID, CoatEdit{Applied: &at}, evening.Add(5*time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	want = []Stay{{at, "back-room", probe}, want[3], want[4]}
	if all, err := j.Stays(t.Context(), edited); err != nil || cmp.Diff(want, all) != "" {
		t.Errorf("put on later than was told at first: %+v, %v", all, err)
	}
}
