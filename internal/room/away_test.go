package room

import (
	"slices"
	"testing"
	"time"

	"recoat/internal/alert"
)

func (w *workshop) report(d time.Duration, online bool) {
	w.do(Reported{At: at(d), Node: "bench", Online: online})
}

// A node whose connection is lost is missed after a minute, not after five, and
// its return is told.
func TestANodeThatLostItsConnectionIsMissedSooner(t *testing.T) {
	w := newRoom()
	w.follow(job(t, "c1", 0, ""))
	w.minutely(0, 10*time.Minute, warm(20), damp(50))
	w.report(10*time.Minute, false)
	w.tick(10*time.Minute + 30*time.Second)
	if n := w.Snapshot().Nodes[0]; n.Silent || !n.Away {
		t.Errorf("after half a minute: %+v", n)
	}
	for d := 11 * time.Minute; d <= 14*time.Minute; d += 10 * time.Second {
		w.tick(d)
	}
	if n := w.Snapshot().Nodes[0]; !n.Silent {
		t.Errorf("after four minutes: %+v", n)
	}
	if got := w.heard("silent"); !slices.Equal(got, []string{"silent bench first"}) {
		t.Errorf("told %v", got)
	}
	w.report(15*time.Minute, true)
	w.minutely(15*time.Minute, 40*time.Minute, warm(20), damp(50))
	if n := w.Snapshot().Nodes[0]; n.Silent || n.Away {
		t.Errorf("after its return: %+v", n)
	}
}

func TestANetworkThatFlickersIsNoSilence(t *testing.T) {
	w := newRoom()
	w.minutely(0, 10*time.Minute, warm(20), damp(50))
	for d := 10 * time.Minute; d < 30*time.Minute; d += time.Minute {
		w.report(d, false)
		w.report(d+20*time.Second, true)
		w.hear(d+30*time.Second, ours("bench", d, warm(20), damp(50)))
		w.tick(d + 50*time.Second)
		if w.Snapshot().Nodes[0].Silent {
			t.Fatalf("silent after %s", d)
		}
	}
	if len(w.heard("silent")) != 0 {
		t.Errorf("told %v", w.told)
	}
}

// A round that comes after the word that the connection is lost was sent before
// it, or the word is old: the node speaks for itself.
func TestARoundOutweighsTheBrokersWord(t *testing.T) {
	w := newRoom()
	w.hear(0, ours("bench", 0, warm(20), damp(50)))
	w.report(time.Second, false)
	w.hear(2*time.Second, ours("bench", 2*time.Second, warm(20), damp(50)))
	w.tick(2 * time.Minute)
	if n := w.Snapshot().Nodes[0]; n.Silent || n.Away {
		t.Errorf("%+v", n)
	}
}

// What the broker keeps of a node taken away long ago makes no node.
func TestTheBrokersWordMakesNoNode(t *testing.T) {
	w := newRoom()
	w.report(0, false)
	w.do(Tick{alert.Instant{Wall: evening.Add(time.Hour), Mono: time.Hour}})
	if s := w.Snapshot(); len(s.Nodes) != 0 || len(w.told) != 0 {
		t.Errorf("%+v, told %v", s.Nodes, w.told)
	}
}

// A backlog of rounds with a clock that was never set is not the present: the
// node's own clock says how old each is, also where it shows 1978.
func TestABacklogOfANeverSetClockIsNotThePresent(t *testing.T) {
	for _, behind := range []time.Duration{90 * 24 * time.Hour, 48 * 365 * 24 * time.Hour} {
		w := newRoom()
		const came = 3 * time.Hour // when the network did
		w.do(Reported{At: at(came), Node: "bench", Online: true, Boot: "b1", Clock: evening.Add(came - behind)})
		for i := range 181 {
			d := time.Duration(i) * time.Minute
			w.hear(came, slow(uint64(i)+1, d, behind, warm(5), damp(95)))
			if now, old := w.Snapshot().Air, came-d > readingLife; (now == nil) != old {
				t.Fatalf("%s behind: the round of %s ago: %+v", behind, came-d, now)
			}
		}
		w.hear(came+time.Minute, slow(182, came+time.Minute, behind, warm(20), damp(50)))
		if now := w.Snapshot().Air; now == nil || now.Air != 20 {
			t.Errorf("%s behind: the newest round is not the present: %+v", behind, now)
		}
	}
}
