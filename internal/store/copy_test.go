package store_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"recoat/internal/store"
	"recoat/sensors"
)

func filled(t *testing.T) (*store.Memory, int64) {
	t.Helper()
	m := store.NewMemory()
	start := time.Date(2031, 2, 3, 18, 0, 0, 0, time.UTC)
	var n int64
	for _, room := range []string{"attic", "cellar"} {
		for i := range 700 {
			r := sensors.Round{Node: "bench", Boot: "b1", Seq: uint64(i + 1), Time: start.Add(time.Duration(i) * 10 * time.Minute), ClockSet: true,
				Readings: []sensors.Reading{{Channel: sensors.Channel{Quantity: sensors.AirTemperature}, Value: float64(i)}}}
			if err := m.Append(t.Context(), room, []sensors.Round{r}); err != nil {
				t.Fatal(err)
			}
			n++
		}
	}
	return m, n
}

// lossy does to every batch what a copy must notice.
type lossy struct {
	*store.Memory
	spoil func([]sensors.Round) []sensors.Round
}

func (l lossy) Append(ctx context.Context, room string, rounds []sensors.Round) error {
	return l.Memory.Append(ctx, room, l.spoil(rounds))
}

func TestCopyIsWholeAndNoticesWhereItIsNot(t *testing.T) {
	from, n := filled(t)
	to := store.NewMemory()
	var last float64
	for range 2 { // the second finds everything there
		last = 0
		c, err := store.Copy(t.Context(), from, to, func(share float64, _ time.Time) {
			if share < last || share > 1 {
				t.Fatalf("progress went from %v to %v", last, share)
			}
			last = share
		})
		if err != nil || c.Rooms != 2 || c.Rounds != n || last != 1 {
			t.Fatalf("%+v, %v, progress %v", c, err, last)
		}
	}
	quiet := func(float64, time.Time) {}
	for want, spoil := range map[string]func([]sensors.Round) []sensors.Round{
		"is not in the copy": func(r []sensors.Round) []sensors.Round { return r[1:] },
		"is another": func(r []sensors.Round) []sensors.Round {
			c := append([]sensors.Round(nil), r...)
			c[0].Readings = []sensors.Reading{{Channel: c[0].Readings[0].Channel, Value: 99.5}}
			return c
		},
	} {
		if _, err := store.Copy(t.Context(), from, lossy{store.NewMemory(), spoil}, quiet); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", want, err)
		}
	}
}
