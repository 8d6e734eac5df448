package dashboards

import (
	"sync"
	"sync/atomic"
)

// latest shares one answer between all who ask at the same time. Nobody gets an
// answer that was begun before he asked, so that it is as fresh as one of his
// own; fifty phones that a change wakes cost what one does.
type latest[T any] struct {
	clock atomic.Int64 // counts who asks and what is begun
	mu    sync.Mutex
	begun int64 // when value was
	value T
}

func (l *latest[T]) get(reckon func() T) T {
	asked := l.clock.Add(1)
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.begun < asked {
		l.begun = l.clock.Add(1)
		l.value = reckon()
	}
	return l.value
}
