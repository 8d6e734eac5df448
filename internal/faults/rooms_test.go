package faults

import (
	"fmt"
	"runtime"
	"sync"
	"testing"
	"time"

	"recoat/internal/telemetry"
	"recoat/sensors"
)

// BenchmarkRooms has every room of a hub report once per turn, and waits until
// all is durable. It tells what a room costs with one of them and with many, and
// what of that is the turn's and what each room's.
func BenchmarkRooms(b *testing.B) {
	var costs []cost
	for _, rooms := range []int{1, 10, 100, 1000} {
		c := cost{rooms: float64(rooms)}
		b.Run(fmt.Sprint(rooms), func(b *testing.B) {
			before := heap()
			h := quietHub(b, b.Context())
			seq := uint64(0)
			turn := func() {
				seq++
				for first := 0; first < rooms; first += 200 {
					var durable sync.WaitGroup
					for n := first; n < min(rooms, first+200); n++ {
						durable.Add(1)
						r := sensors.Round{Node: "bench", Boot: "b1", Seq: seq, Time: time.Now(), Uptime: time.Duration(seq) * time.Second, ClockSet: true, Readings: readings(1)}
						h.Deliver(telemetry.Delivery{Room: fmt.Sprintf("room-%d", n), Node: "bench", Rounds: []sensors.Round{r}, Stored: durable.Done})
					}
					durable.Wait()
				}
			}
			turn()
			busy := processor()
			for b.Loop() {
				turn()
			}
			c.turn = float64((processor() - busy).Microseconds()) / float64(b.N)
			b.ReportMetric(c.turn/c.rooms, "cpu-µs/room-round")
			b.ReportMetric((heap()-before)/float64(rooms)/1024, "KiB/room")
		})
		costs = append(costs, c)
	}
	tell(costs)
}

// cost is what a turn of so many rooms takes of the processor, in µs.
type cost struct{ rooms, turn float64 }

// tell prints how the cost of a room changes with their number, and the straight
// line through the turns that is nearest in proportion to each.
func tell(costs []cost) {
	var w, x, y, xx, xy float64
	for _, c := range costs {
		if c.turn == 0 {
			return // not all of them were asked for
		}
		weight := 1 / (c.turn * c.turn)
		w, x, y = w+weight, x+weight*c.rooms, y+weight*c.turn
		xx, xy = xx+weight*c.rooms*c.rooms, xy+weight*c.rooms*c.turn
	}
	each := (w*xy - x*y) / (w*xx - x*x)
	fixed := (y - each*x) / w
	few, many := costs[1], costs[len(costs)-1]
	ratio := (few.turn / few.rooms) / (many.turn / many.rooms)
	verdict := "met"
	if ratio >= 1.5 || ratio <= 1/1.5 {
		verdict = "NOT MET"
	}
	fmt.Printf("a room's round among %.0f costs %.2f times what it costs among %.0f (asked: less than 1.5 either way: %s)\n", few.rooms, ratio, many.rooms, verdict)
	fmt.Printf("a turn is %.0f µs of waking and committing, and %.0f µs for each room; off that line:", fixed, each)
	for _, c := range costs {
		fmt.Printf(" %.0f rooms %+.0f %%,", c.rooms, 100*(c.turn/(fixed+each*c.rooms)-1))
	}
	fmt.Println()
}

func heap() float64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return float64(m.HeapAlloc)
}
