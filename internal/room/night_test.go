package room

import (
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/drying"
	"recoat/internal/alert"
	"recoat/sensors"
)

// outage is when the node of the night is cut off from the hub; its rounds come
// afterwards, in order, a hundred at a time.
const outageFrom, outageTo = 7 * time.Hour, 7*time.Hour + 30*time.Minute

// nightAt is the air of the night: it cools slowly, and a door that stands open
// from nine to half past lets the damp in.
func nightAt(d time.Duration) []sensors.Reading {
	t := 19 - 2*math.Sin(math.Pi*d.Hours()/24)
	rh := 52.0
	if d >= 3*time.Hour && d < 3*time.Hour+30*time.Minute {
		rh = 94
	}
	return []sensors.Reading{warm(t), damp(rh), surfaceAt("p1", t-1)}
}

// night plays eight hours, a round every ten seconds and a tick every five, and
// returns what was told and when.
func night(t *testing.T) (*workshop, []string) {
	t.Helper()
	w := newRoom()
	w.follow(job(t, "c-0001", 2*time.Hour, "p1"))
	var log []string
	var spool []sensors.Round
	said := 0
	for d := time.Duration(0); d < 8*time.Hour; d += 5 * time.Second {
		if d%(10*time.Second) == 0 {
			spool = append(spool, ours("bench", d, nightAt(d)...))
		}
		if d < outageFrom || d >= outageTo {
			n := min(len(spool), 100)
			for _, r := range spool[:n] {
				w.hear(d, r)
			}
			spool = spool[n:]
		}
		w.tick(d)
		for ; said < len(w.told); said++ {
			log = append(log, fmt.Sprintf("%s %s", at(d).Wall.Format("15:04"), w.told[said]))
		}
	}
	return w, log
}

// The label says two hours. The damp costs half an hour, and the room, colder
// than the label's, some more.
func TestANightEndToEnd(t *testing.T) {
	w, log := night(t)
	e := w.estimate(t, "c-0001", drying.DryToRecoat)
	if took := e.Likely.Sub(evening) - 2*time.Hour; !e.Reached || e.Uncovered != 0 || took < 150*time.Minute || took > 4*time.Hour {
		t.Errorf("ready after %s: %+v", took, e)
	}
	told := func(late time.Duration) []string {
		return []string{
			"21:05 condensation c-0001 first", "21:50 condensation c-0001 cleared",
			"22:00 slipped c-0001/dry-to-recoat first",
			e.Likely.Add(late).Format("15:04") + " ready c-0001/dry-to-recoat first",
			"01:04 silent bench first", "01:30 silent bench cleared",
		}
	}
	// The coat is reckoned once a minute, and told of no later.
	if diff := cmp.Diff(told(time.Minute), log); diff != "" && !slices.Equal(told(0), log) {
		t.Error(diff)
	}
	dry := newRoom()
	dry.follow(job(t, "c-0001", 2*time.Hour, "p1"))
	for d := time.Duration(0); d < 8*time.Hour; d += time.Minute {
		x := nightAt(d)
		x[1].Value = 52
		dry.hear(d, ours("bench", d, x...))
	}
	// The pace differs a little from hour to hour.
	cost := e.Likely.Sub(dry.estimate(t, "c-0001", drying.DryToRecoat).Likely)
	if cost < 29*time.Minute || cost > 33*time.Minute {
		t.Errorf("the damp cost %s, want half an hour", cost)
	}
	if n := len(w.all); n == 0 || w.all[n-1].Episode.State != alert.Cleared {
		t.Errorf("at the end something is still the matter: %+v", w.all)
	}
}
