package gather

import (
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/drying"
	"recoat/internal/shop"
	"recoat/internal/store"
	"recoat/sensors"
)

var evening = time.Date(2026, 3, 1, 21, 0, 0, 0, time.UTC)

// measure gives a room a node that reads one temperature, and what each probe
// reads, every ten minutes from two days before the evening to a day after it.
func measure(t *testing.T, s store.Readings, room, node string, air float64, probes map[string]float64) {
	t.Helper()
	var rounds []sensors.Round
	for at := evening.Add(-48 * time.Hour); at.Before(evening.Add(24 * time.Hour)); at = at.Add(10 * time.Minute) {
		r := sensors.Round{Node: node, Boot: "b", Seq: uint64(len(rounds)) + 1, Time: at, ClockSet: true, Readings: []sensors.Reading{
			{Channel: sensors.Channel{Quantity: sensors.AirTemperature}, Value: air},
			{Channel: sensors.Channel{Quantity: sensors.AirHumidity}, Value: 50},
		}}
		for probe, value := range probes {
			r.Readings = append(r.Readings, sensors.Reading{Channel: sensors.Channel{Quantity: sensors.SurfaceTemperature, Probe: probe}, Value: value})
		}
		rounds = append(rounds, r)
	}
	if err := s.Append(t.Context(), room, rounds); err != nil {
		t.Fatal(err)
	}
}

// carried is a shop in which a part with a coat went from one room into another
// two hours after it, and got another probe there an hour later.
func carried(t *testing.T) Gatherer {
	t.Helper()
	ctx := t.Context()
	j, err := shop.OpenJournal(ctx, filepath.Join(t.TempDir(), "journal.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = j.Close() })
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	for _, r := range []shop.Room{{ID: "back-room", Title: "Back room"}, {ID: "attic", Title: "Attic"}} {
		must(j.AddRoom(ctx, r, evening.Add(-72*time.Hour)))
	}
	label := drying.Product{Name: "Quiet Harbour", Family: drying.Waterborne, Kind: "acrylic", Stated: drying.Stated{Air: 23, Humidity: 50}}
	label.Stated.Times[drying.DryToRecoat] = 2 * time.Hour
	product, err := j.PutProduct(ctx, label, evening)
	must(err)
	piece, err := j.AddPiece(ctx, shop.Piece{Name: "Press", Parts: []shop.Part{{Name: "doors", Room: "back-room", Probe: "a1"}}}, evening.Add(-72*time.Hour))
	must(err)
	part := piece.Parts[0].ID
	_, err = j.ApplyCoat(ctx, shop.Application{Part: part, Product: product.ID, Applied: evening}, evening)
	must(err)
	must(j.PlacePart(ctx, part, "attic", "", evening.Add(2*time.Hour)))
	must(j.PlacePart(ctx, part, "attic", "b2", evening.Add(3*time.Hour)))
	_, err = j.ApplyCoat(ctx, shop.Application{Part: part, Product: product.ID, Applied: evening.Add(12 * time.Hour)}, evening.Add(12*time.Hour))
	must(err)
	s := store.NewMemory()
	measure(t, s, "back-room", "bench", 18, map[string]float64{"a1": 16})
	measure(t, s, "attic", "rafter", 7, map[string]float64{"b2": 5})
	return Gatherer{Readings: s, Journal: j, Workshop: j, Places: j, Location: time.UTC}
}

// Each room's air counts for its own time, and each probe while it was on the
// part, from the day before the coat on.
func TestEvidenceFollowsThePartFromRoomToRoom(t *testing.T) {
	g := carried(t)
	b, err := g.Document(t.Context(), "c-0001", evening.Add(6*time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	e := b.Evidence[0]
	if first := e.Samples[0].At; first.After(evening.Add(-23 * time.Hour)) {
		t.Errorf("the evidence begins at %s, not a day before the coat", first)
	}
	for _, x := range e.Samples {
		var want drying.Conditions
		switch after := x.At.Sub(evening); {
		case after < 2*time.Hour:
			want = drying.Conditions{Air: 18, Humidity: 50, Surface: 16, SurfaceMeasured: true}
		case after < 3*time.Hour:
			want = drying.Conditions{Air: 7, Humidity: 50, Surface: 7}
		default:
			want = drying.Conditions{Air: 7, Humidity: 50, Surface: 5, SurfaceMeasured: true}
		}
		if x.Conditions != want {
			t.Errorf("%s after the coat: %+v, want %+v", x.At.Sub(evening), x.Conditions, want)
		}
	}
	facts := b.Document.Coats[0]
	if m := facts.Coat.Moved; len(m) != 2 || m[0].Room != "Attic" || m[1].Probe != "b2" || facts.Coat.Room != "Back room" {
		t.Errorf("the record says it was moved: %+v", facts.Coat.Moved)
	}
	var sources []string
	for _, x := range facts.Sensors {
		sources = append(sources, x.Room+"/"+x.Node+"/"+x.Channel)
	}
	want := []string{"/bench/air-temperature", "/bench/relative-humidity", "/bench/surface-temperature:a1", "attic/rafter/air-temperature", "attic/rafter/relative-humidity", "attic/rafter/surface-temperature:b2"}
	if diff := cmp.Diff(want, sources); diff != "" {
		t.Errorf("sources (-want +got):\n%s", diff)
	}
	rounds := map[string]int{}
	err = b.Rounds(t.Context(), func(room string, _, _ sensors.Round) error { rounds[room]++; return nil })
	if err != nil || rounds["back-room"] != 26*6 || rounds["attic"] != 4*6 {
		t.Errorf("the rounds behind it, by room: %v, %v", rounds, err)
	}
}

// The coat over it was put on in the second room; the day before it reaches back
// to the coat below, in the first.
func TestEvidenceReachesBackThroughAMove(t *testing.T) {
	g := carried(t)
	e, err := g.Coat(t.Context(), "c-0002", evening.Add(18*time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	air := map[float64]int{}
	for _, x := range e.Samples {
		air[float64(x.Air)]++
		if warm := x.Air == 18; warm != x.At.Before(evening.Add(2*time.Hour)) {
			t.Errorf("%s after the coat below, the air is %v °C", x.At.Sub(evening), x.Air)
		}
	}
	if air[18] == 0 || air[7] == 0 || len(e.Moves) != 0 {
		t.Errorf("%v, %+v", air, e.Moves)
	}
}
