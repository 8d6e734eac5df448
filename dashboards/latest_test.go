package dashboards

import (
	"sync"
	"testing"
	"time"
)

// All who ask while one is answered share the next answer: two are reckoned for
// fifty, and none of them was begun before it was asked for.
func TestLatestIsSharedAndNeverOld(t *testing.T) {
	var l latest[int]
	reckoned := 0 // under l's lock
	entered, leave := make(chan bool, 2), make(chan bool)
	reckon := func() int {
		reckoned++
		entered <- true
		<-leave
		return reckoned
	}
	var all sync.WaitGroup
	all.Go(func() {
		if got := l.get(reckon); got != 1 {
			t.Errorf("the first who asks gets answer %d", got)
		}
	})
	<-entered
	for range 49 {
		all.Go(func() {
			if got := l.get(reckon); got != 2 {
				t.Errorf("one who asks while the first is answered gets answer %d, want the second", got)
			}
		})
	}
	for l.clock.Load() < 51 { // fifty who asked, and one answer begun
		time.Sleep(time.Millisecond)
	}
	leave <- true
	<-entered
	leave <- true
	all.Wait()
	if reckoned != 2 {
		t.Errorf("%d were reckoned for fifty who asked, want 2", reckoned)
	}
	go func() { <-entered; leave <- true }()
	if got := l.get(reckon); got != 3 {
		t.Errorf("one who asks later gets answer %d, want a third", got)
	}
}
