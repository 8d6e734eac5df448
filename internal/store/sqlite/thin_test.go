package sqlite

import (
	"testing"
	"time"

	"recoat/internal/store"
	"recoat/sensors"
)

// Two days are let go of but for an hour that a coat's record needs: rounds go,
// rollups stay, and everything can be asked for as before.
func TestThinKeepsRollupsAndEvidence(t *testing.T) {
	s := openNew(t)
	fill(t, s, 4*1800*12, "bench") // two days
	from, to := dusk.AddDate(0, 0, -1), dusk.AddDate(0, 0, 4)
	of := store.Series{Room: "attic", Node: "bench", Channel: sensors.Channel{Quantity: sensors.AirTemperature}}
	before, err := s.Rollups(t.Context(), of, time.Hour, from, to)
	if err != nil || len(before) != 48 {
		t.Fatalf("%d hours, %v", len(before), err)
	}
	whole := fileSize(t, s, s.db.Path)
	kept := Span{"attic", dusk.Add(20 * time.Hour), dusk.Add(21 * time.Hour)}
	gone, err := s.Thin(t.Context(), dusk.Add(40*time.Hour), []Span{kept, {"cellar", from, to}})
	if err != nil || gone == 0 {
		t.Fatalf("%d blocks, %v", gone, err)
	}
	if after, err := s.Rollups(t.Context(), of, time.Hour, from, to); err != nil || len(after) != 48 {
		t.Errorf("%d hours afterwards, %v", len(after), err)
	}
	span := func(a, b time.Duration) int {
		all, err := store.All(t.Context(), s, store.Query{Room: "attic", From: dusk.Add(a), To: dusk.Add(b)})
		if err != nil {
			t.Fatal(err)
		}
		return len(all)
	}
	if n := span(20*time.Hour, 21*time.Hour); n != 1800 {
		t.Errorf("%d rounds of the hour to keep, of 1800", n)
	}
	if n := span(40*time.Hour, 48*time.Hour); n != 8*1800 {
		t.Errorf("%d rounds that are not old, of %d", n, 8*1800)
	}
	if n := span(0, 19*time.Hour); n != 0 {
		t.Errorf("%d old rounds are still there", n)
	}
	extents, err := s.Extents(t.Context())
	if err != nil || len(extents) != 3 || !extents[0].First.Equal(dusk) {
		t.Errorf("%v, %v", extents, err)
	}
	if err := s.Check(t.Context()); err != nil {
		t.Error(err)
	}
	if now := fileSize(t, s, s.db.Path); now > 0.6*whole {
		t.Errorf("the file had %.0f bytes and has %.0f", whole, now)
	}
}

func TestPackTakesWhatEndedBootsLeft(t *testing.T) {
	s := openNew(t)
	fillBy(t, s, 50, 300, "bench")
	if packed, rows := segments(t, s); packed != 0 || rows != 300 {
		t.Fatalf("%d segments, %d rows", packed, rows)
	}
	if err := s.Pack(t.Context(), dusk.AddDate(0, 0, 1)); err != nil {
		t.Fatal(err)
	}
	if packed, rows := segments(t, s); packed != 2 || rows != 0 || count(t, s) != 300 {
		t.Errorf("%d segments, %d rows, %d rounds", packed, rows, count(t, s))
	}
}
