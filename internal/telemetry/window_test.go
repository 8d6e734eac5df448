package telemetry

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/sensors"
)

// sweeper is a hub and a spool around a window, in time that only it moves.
type sweeper struct {
	w     *window
	now   time.Time
	spool []Entry
	taken chan struct{}
}

func newSweeper(limit int, rounds int64) *sweeper {
	s := &sweeper{w: newWindow(limit, time.Minute), now: received, taken: make(chan struct{})}
	close(s.taken)
	for seq := int64(1); seq <= rounds; seq++ {
		s.add(seq)
	}
	return s
}

func (s *sweeper) add(seq int64) {
	s.spool = append(s.spool, Entry{Place{1, seq}, sensors.Round{Boot: bootA, Seq: uint64(seq), ClockSet: true}})
}

// pump does as the Courier does, and returns what went out.
func (s *sweeper) pump() (out []uint64) {
	for s.w.free() > 0 {
		var found []Entry
		for _, e := range s.spool {
			if e.Place.seq > s.w.cursor.seq && len(found) < s.w.free() {
				found = append(found, e)
			}
		}
		if len(found) == 0 && !s.w.end() {
			return out
		}
		for _, e := range found {
			if s.w.pass(e) {
				s.w.sent(e.Round, s.now, s.taken)
				out = append(out, e.Round.Seq)
			}
		}
	}
	return out
}

func (s *sweeper) wait() { s.now = s.now.Add(time.Minute); s.w.expire(s.now) }

func (s *sweeper) stored(seqs ...uint64) {
	r := Receipt{Boot: bootA, ClockSet: true, Spans: spansOf(seqs)}
	s.w.acknowledged(r)
	var left []Entry
	for _, e := range s.spool {
		if !r.Holds(e.Round.Seq) {
			left = append(left, e)
		}
	}
	s.spool = left
}

func (s *sweeper) want(t *testing.T, what string, want ...uint64) {
	t.Helper()
	if diff := cmp.Diff(want, s.pump()); diff != "" {
		t.Errorf("%s: %s", what, diff)
	}
}

func TestTheWindowSendsInOrderAndNoMoreThanItHolds(t *testing.T) {
	s := newSweeper(3, 7)
	s.want(t, "at first", 1, 2, 3)
	s.want(t, "while they fly")
	s.stored(1, 3)
	s.want(t, "two acknowledged", 4, 5)
	s.stored(2, 4, 5)
	s.want(t, "the rest", 6, 7)
	s.stored(6, 7)
	s.want(t, "nothing left")
	s.add(8)
	s.want(t, "a new one", 8)
}

func TestTheWindowStartsAtTheOldestWhenTheHubIsBack(t *testing.T) {
	s := newSweeper(2, 9)
	s.want(t, "at first", 1, 2)
	s.wait()
	s.want(t, "no answer: on", 3, 4)
	s.wait()
	s.want(t, "still none", 5, 6)
	s.stored(5)
	s.want(t, "an answer: the oldest", 1)
	s.stored(1, 6)
	s.want(t, "in order", 2, 3)
	s.stored(2)
	s.want(t, "and on", 4)
}

func TestRoundsTheHubWillNotHaveHoldUpNoOther(t *testing.T) {
	s := newSweeper(2, 40)
	refused := map[uint64]bool{1: true, 2: true, 3: true}
	stored := map[uint64]bool{}
	for minutes := 0; len(stored) < 37; minutes++ {
		if minutes > 40 {
			t.Fatalf("after %d minutes only %d rounds are stored", minutes, len(stored))
		}
		for out := s.pump(); len(out) > 0; out = s.pump() {
			for _, seq := range out {
				if !refused[seq] {
					stored[seq] = true
					s.stored(seq)
				}
			}
		}
		s.wait()
	}
}

func TestTheWindowWaitsForTheClientAndForTheRightForm(t *testing.T) {
	s := newSweeper(2, 2)
	s.taken = make(chan struct{})
	s.want(t, "at first", 1, 2)
	s.wait()
	s.want(t, "the client still has them")
	s.w.acknowledged(Receipt{Boot: bootA, ClockSet: false, Spans: []Span{{1, 2}}})
	s.w.acknowledged(Receipt{Boot: bootB, ClockSet: true, Spans: []Span{{1, 2}}})
	if len(s.w.flights) != 2 {
		t.Error("an acknowledgement of another form or boot counted")
	}
	close(s.taken)
	s.wait()
	s.want(t, "the client is done with them", 1, 2)
	s.w.rewind()
	s.want(t, "a new connection", 1, 2)
	if s.w.flights[identity{bootA, 2}].until != s.now.Add(time.Minute) {
		t.Errorf("%v", s.w.flights)
	}
}
