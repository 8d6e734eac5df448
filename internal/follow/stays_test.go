package follow

import (
	"testing"
	"time"

	"recoat/internal/shop"
	"recoat/internal/store"
	"recoat/sensors"
)

// twoRooms is a store with a cold room and a warm one, each measured all night.
func twoRooms(t *testing.T, hours int) store.Readings {
	t.Helper()
	s := measured(t, 12, hours)
	for i := range hours * 12 {
		at := evening.Add(time.Duration(i) * 5 * time.Minute)
		round := sensors.Round{Node: "stove", Boot: "w", Seq: uint64(i) + 1, Time: at, ClockSet: true, Readings: []sensors.Reading{
			{Channel: sensors.Channel{Quantity: sensors.AirTemperature}, Value: 23},
			{Channel: sensors.Channel{Quantity: sensors.AirHumidity}, Value: 50},
		}}
		if err := s.Append(t.Context(), "warm-room", []sensors.Round{round}); err != nil {
			t.Fatal(err)
		}
	}
	return s
}

// A part that is carried into another room has each room's air for its own time:
// on the label's clock the hour in the warm room, which is as on the label,
// counts for an hour, whichever of the two it was.
func TestEachRoomCountsForItsOwnTime(t *testing.T) {
	j, coat := press(t)
	readings, now := twoRooms(t, 2), evening.Add(2*time.Hour)
	if err := j.AddRoom(t.Context(), shop.Room{ID: "warm-room", Title: "Warm room"}, evening); err != nil {
		t.Fatal(err)
	}
	gained := func(places Places, at time.Time) float64 {
		t.Helper()
		c, err := Reader{Readings: readings, Places: places}.Coat(t.Context(), coat, time.Time{}, at)
		if err != nil {
			t.Fatal(err)
		}
		return recoat(t, c).Gained * 2 // hours of the label's two
	}
	cold := gained(j, evening.Add(time.Hour))
	if cold <= 0 || cold > 0.7 {
		t.Fatalf("an hour at 12 °C counts for %.2f label hours", cold)
	}
	if err := j.PlacePart(t.Context(), coat.Part.ID, "warm-room", "", evening.Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	moved, err := j.Coat(t.Context(), coat.ID)
	if err != nil {
		t.Fatal(err)
	}
	coat = moved
	if got := gained(j, now); got < cold+0.95 || got > cold+1.05 {
		t.Errorf("an hour in the cold and one as on the label count for %.2f label hours, want %.2f", got, cold+1)
	}
	if got := gained(nil, now); got > 2*cold+0.1 {
		t.Errorf("without the moves it is %.2f: this test tells nothing", got)
	}
}
