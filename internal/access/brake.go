package access

import (
	"container/list"
	"sync"
	"time"
)

// How guessing is slowed: a few tries are free, then each waits twice as long
// as the one before, up to a bound that does not lock the owner out for good.
const (
	freeTries   = 5
	firstWait   = 2 * time.Second
	longestWait = 5 * time.Minute
	forgiven    = 30 * time.Minute // without a failure, until all is as at first
	mostBraked  = 4096             // names and addresses remembered, the newest
)

// brake remembers failures by what they have in common: the address they came
// from, the name that was tried.
type brake struct {
	mu     sync.Mutex
	failed map[string]*list.Element // of *failures
	order  *list.List               // the longest untouched in front
}

type failures struct {
	key   string
	count int
	last  time.Time
}

func newBrake() brake { return brake{failed: map[string]*list.Element{}, order: list.New()} }

// wait returns how long is still to be waited before another try with any of
// the keys; 0: now.
func (b *brake) wait(now time.Time, keys ...string) time.Duration {
	b.mu.Lock()
	defer b.mu.Unlock()
	longest := time.Duration(0)
	for _, key := range keys {
		if e := b.failed[key]; e != nil {
			f := e.Value.(*failures)
			longest = max(longest, f.left(now))
		}
	}
	return longest
}

// left is never longer than the wait itself, whatever the clock did.
func (f *failures) left(now time.Time) time.Duration {
	since := now.Sub(f.last)
	if f.count < freeTries || since >= forgiven {
		return 0
	}
	whole := min(firstWait<<min(f.count-freeTries, 20), longestWait)
	return max(0, whole-max(0, since))
}

// failure notes a failed try with each of the keys.
func (b *brake) failure(now time.Time, keys ...string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, key := range keys {
		e := b.failed[key]
		if e == nil {
			e = b.order.PushBack(&failures{key: key})
			b.failed[key] = e
		}
		f := e.Value.(*failures)
		if now.Sub(f.last) >= forgiven {
			f.count = 0
		}
		f.count++
		f.last = now
		b.order.MoveToBack(e)
	}
	for b.order.Len() > mostBraked {
		oldest := b.order.Front()
		delete(b.failed, oldest.Value.(*failures).key)
		b.order.Remove(oldest)
	}
}

// success forgets the failures with a key.
func (b *brake) success(keys ...string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, key := range keys {
		if e := b.failed[key]; e != nil {
			delete(b.failed, key)
			b.order.Remove(e)
		}
	}
}
