package follow

import (
	"path/filepath"
	"strings"
	"testing"
	"time"

	"recoat/drying"
	"recoat/internal/shop"
	"recoat/internal/shop/schedule"
	"recoat/internal/store"
	"recoat/sensors"
)

var evening = time.Date(2026, 3, 1, 21, 30, 0, 0, time.UTC)

// press is a journal with a press of one part and a coat put on it in the
// evening: 2 h to recoat and 21 days to cure at 23 °C and 50 %.
func press(t *testing.T) (*shop.Journal, shop.Coat) {
	t.Helper()
	ctx := t.Context()
	j, err := shop.OpenJournal(ctx, filepath.Join(t.TempDir(), "journal.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = j.Close() })
	if err := j.AddRoom(ctx, shop.Room{ID: "back-room", Title: "Back room"}, evening); err != nil {
		t.Fatal(err)
	}
	label := drying.Product{Name: "Quiet Harbour", Family: drying.Waterborne, Kind: "acrylic", Stated: drying.Stated{Air: 23, Humidity: 50}}
	label.Stated.Times[drying.DryToRecoat], label.Stated.Times[drying.Cured] = 2*time.Hour, 21*24*time.Hour
	label.Stated.RecoatBy = 72 * time.Hour
	product, err := j.PutProduct(ctx, label, evening)
	if err != nil {
		t.Fatal(err)
	}
	piece, err := j.AddPiece(ctx, shop.Piece{Name: "Press", Client: "pays in cash", Parts: []shop.Part{{Name: "doors", Room: "back-room"}}}, evening)
	if err != nil {
		t.Fatal(err)
	}
	coat, err := j.ApplyCoat(ctx, shop.Application{Part: piece.Parts[0].ID, Product: product.ID, Applied: evening}, evening)
	if err != nil {
		t.Fatal(err)
	}
	return j, coat
}

// measured is a store with the room at one air temperature for some hours, a
// round every five minutes.
func measured(t *testing.T, celsius float64, hours int) store.Readings {
	t.Helper()
	s := store.NewMemory()
	for i := range hours * 12 {
		at := evening.Add(time.Duration(i) * 5 * time.Minute)
		round := sensors.Round{
			Node: "bench", Boot: "b", Seq: uint64(i) + 1, Time: at, ClockSet: true,
			Readings: []sensors.Reading{
				{Channel: sensors.Channel{Quantity: sensors.AirTemperature}, Value: celsius},
				{Channel: sensors.Channel{Quantity: sensors.AirHumidity}, Value: 50},
			},
		}
		if err := s.Append(t.Context(), "back-room", []sensors.Round{round}); err != nil {
			t.Fatal(err)
		}
	}
	return s
}

func recoat(t *testing.T, c schedule.Coat) drying.Estimate {
	t.Helper()
	for _, e := range c.Estimates {
		if e.Stage == drying.DryToRecoat {
			return e
		}
	}
	t.Fatal("nothing is said of dry-to-recoat")
	return drying.Estimate{}
}

func within(t *testing.T, what string, got, want time.Time, most time.Duration) {
	t.Helper()
	if d := got.Sub(want).Abs(); d > most {
		t.Errorf("%s: %v, want %v", what, got, want)
	}
}

func TestACoatGoesByItsRoom(t *testing.T) {
	_, coat := press(t)
	now := evening.Add(time.Hour)
	at := func(r Readings) schedule.Coat {
		t.Helper()
		c, err := Reader{Readings: r}.Coat(t.Context(), coat, time.Time{}, now)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	onLabel, cold, none := at(measured(t, 23, 1)), at(measured(t, 12, 1)), at(nil)
	within(t, "in a room as on the label", recoat(t, onLabel).Likely, evening.Add(2*time.Hour), 3*time.Minute)
	if late := recoat(t, cold).Likely; late.Before(evening.Add(3 * time.Hour)) {
		t.Errorf("in a cold room: %v", late)
	}
	within(t, "without any reading", recoat(t, none).Likely, evening.Add(2*time.Hour), time.Second)
	if onLabel.ByLabel || cold.ByLabel || !none.ByLabel {
		t.Error("it does not say which go by the label alone")
	}
	within(t, "the window", none.RecoatBy, evening.Add(72*time.Hour), time.Minute)
}

// A piece that has left goes on at its label's conditions, whatever its old room
// does meanwhile.
func TestAPieceThatHasLeft(t *testing.T) {
	_, coat := press(t)
	left := evening.Add(30 * time.Minute)
	c, err := Reader{Readings: measured(t, 5, 9)}.Coat(t.Context(), coat, left, evening.Add(9*time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	if ready := recoat(t, c).Likely; ready.Before(evening.Add(2*time.Hour)) || ready.After(evening.Add(150*time.Minute)) {
		t.Errorf("half an hour in a cold room, the rest as on the label: %v", ready)
	}
}

func TestACardFromTheStore(t *testing.T) {
	j, coat := press(t)
	delivered := evening.Add(30 * time.Minute)
	if _, err := j.EditPiece(t.Context(), coat.PieceID, shop.PieceEdit{Delivered: &delivered}, evening.Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	card, err := Reader{Readings: measured(t, 23, 1)}.Card(t.Context(), j, coat.PieceID, evening.Add(24*time.Hour))
	if err != nil || !card.Cure.Known || card.Cure.Done || len(card.Parts[0].Layers) != 1 {
		t.Fatalf("%+v, %v", card, err)
	}
	within(t, "cured", card.Cure.Likely, evening.Add(21*24*time.Hour), time.Hour)
	if !strings.Contains(card.Cure.Text, "Its label gives 21 days") {
		t.Error(card.Cure.Text)
	}
	if _, err := (Reader{}).Card(t.Context(), j, "p-0009", evening); err == nil {
		t.Error("a card of no piece")
	}
}

func TestLookLeavesOutWhatIsUndone(t *testing.T) {
	_, coat := press(t)
	undone, future := coat, coat
	undone.ID, undone.Undone = "c-0002", evening
	future.ID, future.Applied = "c-0003", evening.Add(9*time.Hour)
	look, err := Reader{}.Look(t.Context(), []shop.Coat{coat, undone, future}, time.Time{}, evening.Add(time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	for id, want := range map[string]bool{"c-0001": true, "c-0002": false, "c-0003": false} {
		if _, ok := look(id); ok != want {
			t.Errorf("%s: %v", id, ok)
		}
	}
}

func TestAnswers(t *testing.T) {
	coat := schedule.Coat{Applied: evening, Estimates: []drying.Estimate{
		{Stage: drying.SetToTouch, Likely: evening.Add(30 * time.Minute), Low: evening.Add(20 * time.Minute), High: evening.Add(40 * time.Minute)},
		{Stage: drying.TackFree, Likely: evening.Add(60 * time.Minute), Low: evening.Add(45 * time.Minute), High: evening.Add(80 * time.Minute)},
	}}
	for _, c := range []struct {
		feel    shop.Feel
		minutes int
		want    string
		stage   string
	}{
		{shop.Wet, 10, "as-reckoned", "set-to-touch"},
		{shop.Wet, 35, "as-reckoned", "set-to-touch"},
		{shop.Wet, 50, "later", "set-to-touch"},
		{shop.Tacky, 50, "as-reckoned", "tack-free"},
		{shop.Tacky, 90, "later", "tack-free"},
		{shop.Dry, 40, "sooner", "tack-free"},
		{shop.Dry, 90, "as-reckoned", "tack-free"},
	} {
		a := NewAnswer(coat, c.feel, evening.Add(time.Duration(c.minutes)*time.Minute))
		if a.Verdict != c.want || a.Stage != c.stage || a.Sentence == "" {
			t.Errorf("%s after %d min: %+v", c.feel, c.minutes, a)
		}
	}
	if a := NewAnswer(schedule.Coat{}, shop.Dry, evening); a.Verdict != "not-reckoned" || !strings.Contains(a.Sentence, "touch decides") {
		t.Errorf("%+v", a)
	}
	coat.ByLabel = true
	if a := NewAnswer(coat, shop.Dry, evening.Add(90*time.Minute)); !strings.Contains(a.Sentence, "teaches nothing") {
		t.Errorf("%+v", a)
	}
}
