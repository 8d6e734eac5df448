package backend

import (
	"context"
	"math"
	"slices"
	"testing"
	"time"

	"recoat/dashboards"
	"recoat/internal/store"
	"recoat/sensors"
)

// counting is a store that counts the rounds it hands out.
type counting struct {
	store.Readings
	rounds int
}

func (c *counting) Rounds(ctx context.Context, q store.Query, each func(sensors.Round) error) error {
	return c.Readings.Rounds(ctx, q, func(r sensors.Round) error {
		c.rounds++
		return each(r)
	})
}

// wave fills a store with so long of a room that swings through the day, two
// places and one surface, with a gap and doubtful values in it.
func wave(t *testing.T, length time.Duration) *kept {
	k := newKept(t)
	var bench, loft []sensors.Round
	for d := time.Duration(0); d < length; d += 3 * time.Minute {
		k.seq++
		if d > 30*time.Hour && d < 33*time.Hour {
			continue
		}
		x := 2 * math.Pi * d.Hours() / 24
		doubtful := warm(85)
		doubtful.Quality = sensors.Suspect
		bench = append(bench, sensors.Round{Node: "bench", Boot: "b1", Seq: k.seq, ClockSet: true, Time: noon.Add(d), Readings: []sensors.Reading{
			warm(18 + 3*math.Sin(x)), damp(60 - 20*math.Sin(x)), reading(sensors.SurfaceTemperature, "p1", 16+2*math.Cos(x)),
		}})
		if k.seq%7 == 0 {
			bench[len(bench)-1].Readings[0] = doubtful
		}
		loft = append(loft, sensors.Round{Node: "loft", Boot: "b2", Seq: k.seq, ClockSet: true, Time: noon.Add(d), Readings: []sensors.Reading{warm(5), damp(90)}})
	}
	for _, rounds := range [][]sensors.Round{bench, loft} {
		if err := k.Append(t.Context(), "back-room", rounds); err != nil {
			t.Fatal(err)
		}
	}
	return k
}

// plain are the means of a room's readings, reckoned from the rounds without any
// of the code under test: of the good values from start on, within width.
func plain(t *testing.T, k *kept, start time.Time, width time.Duration) (air, humidity, surface float64) {
	t.Helper()
	sum, n := map[sensors.Quantity]float64{}, map[sensors.Quantity]float64{}
	q := store.Query{Room: "back-room", Node: "bench", From: start, To: start.Add(width)}
	err := k.Rounds(t.Context(), q, func(r sensors.Round) error {
		for _, x := range r.Readings {
			if x.Quality == sensors.Good {
				sum[x.Channel.Quantity] += x.Value
				n[x.Channel.Quantity]++
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	mean := func(q sensors.Quantity) float64 { return sum[q] / n[q] }
	return mean(sensors.AirTemperature), mean(sensors.AirHumidity), mean(sensors.SurfaceTemperature)
}

// A long band has the means of the rounds in each bucket, and reads no round.
func TestALongBandAgreesWithTheRounds(t *testing.T) {
	for name, c := range map[string]struct{ length, width time.Duration }{
		"a week":      {7 * 24 * time.Hour, 30 * time.Minute},
		"three days":  {3 * 24 * time.Hour, 10 * time.Minute},
		"three weeks": {21 * 24 * time.Hour, time.Hour},
	} {
		t.Run(name, func(t *testing.T) {
			k := wave(t, c.length)
			watched := &counting{Readings: k.Memory}
			points, err := NewHistory(watched).Band(t.Context(), "back-room", noon, noon.Add(c.length))
			if err != nil {
				t.Fatal(err)
			}
			if watched.rounds > 0 {
				t.Errorf("%d rounds were read", watched.rounds)
			}
			gap := int(3 * time.Hour / c.width)
			if want := int(c.length/c.width) - gap; len(points) < want || len(points) > want+1 {
				t.Fatalf("%d points, want %d, the gap left out", len(points), want)
			}
			for _, p := range points {
				air, humidity, surface := plain(t, k, p.At.Add(-c.width/2), c.width)
				if !near(p.Air, air, 1e-6) || !near(p.Humidity, humidity, 1e-6) || math.Abs(float64(p.Surfaces["p1"])-surface) > 1e-6 || p.DewPoint == nil {
					t.Fatalf("at %s: %v, the rounds say %.4f, %.4f, %.4f", p.At, p, air, humidity, surface)
				}
			}
			if !slices.IsSortedFunc(points, func(a, b dashboards.Point) int { return a.At.Compare(b.At) }) {
				t.Error("the points are not in order of time")
			}
		})
	}
}

func TestALongBandIsOfOneRoomAndOfItsTime(t *testing.T) {
	k := wave(t, 24*time.Hour)
	for name, room := range map[string]string{"another room": "shed", "another time": "back-room"} {
		from := noon
		if room == "back-room" {
			from = noon.Add(10 * 24 * time.Hour)
		}
		points, err := NewHistory(k.Memory).Band(t.Context(), room, from, from.Add(5*24*time.Hour))
		if err != nil || len(points) != 0 {
			t.Errorf("%s: %d points, %v", name, len(points), err)
		}
	}
}

func TestAStoreThatFailsAtALongBandSaysSo(t *testing.T) {
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := NewHistory(wave(t, time.Hour).Memory).Band(ended, "back-room", noon, noon.Add(5*24*time.Hour)); err == nil {
		t.Error("no error")
	}
}
