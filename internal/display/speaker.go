package display

import (
	"context"
	"reflect"
	"time"

	"recoat/internal/room"
	"recoat/internal/telemetry"
)

// Rooms is what is asked of the hub.
type Rooms interface {
	Snapshots() []room.Snapshot
	Watch(ctx context.Context) <-chan struct{}
}

// The pace of the hub's words: soon after something has changed, and often enough
// for a display to know that the hub still speaks.
const (
	sooner = 5 * time.Second
	anew   = time.Minute
)

// Speaker tells what the displays of all rooms show.
type Speaker struct {
	Rooms    Rooms
	Location *time.Location
	Out      chan<- telemetry.Told // one that is full is passed over
}

// Run speaks until ctx ends.
func (s Speaker) Run(ctx context.Context) error {
	changed := s.Rooms.Watch(ctx)
	beat := time.NewTicker(sooner)
	defer beat.Stop()
	last, dirty := map[string]spoken{}, true
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-changed:
			dirty = true
		case now := <-beat.C:
			s.speak(last, dirty, now)
			dirty = false
		}
	}
}

// spoken is what was told of a room, and when.
type spoken struct {
	words telemetry.Display
	at    time.Time
}

func (s Speaker) speak(last map[string]spoken, dirty bool, now time.Time) {
	due := dirty
	for _, x := range last {
		due = due || now.Sub(x.at) >= anew
	}
	if !due {
		return
	}
	for _, snapshot := range s.Rooms.Snapshots() {
		words, old := Words(snapshot, s.Location), last[snapshot.Room]
		if now.Sub(old.at) < anew && sameWords(words, old.words) {
			continue
		}
		words.At = now.In(s.Location)
		select {
		case s.Out <- telemetry.Told{Room: snapshot.Room, Display: words}:
			last[snapshot.Room] = spoken{words, now}
		default:
		}
	}
}

// sameWords leaves out when they were said, and within a minute when the next is
// ready: the reckoning moves it by seconds all the time.
func sameWords(a, b telemetry.Display) bool {
	if (a.Next == nil) != (b.Next == nil) || a.Next != nil && a.Next.At.Sub(b.Next.At).Abs() >= time.Minute {
		return false
	}
	a.At = b.At
	if a.Next != nil {
		n := *a.Next
		n.At = b.Next.At
		a.Next = &n
	}
	return reflect.DeepEqual(a, b)
}
