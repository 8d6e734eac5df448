package alert

import (
	"fmt"
	"math"
	"time"
)

// Tri is whether a condition holds, as far as is known.
type Tri uint8

// The answers. Unknown, the zero value, neither raises nor clears. Between, of a
// value between the threshold that sets and the one that clears, is whatever
// was last known, though it ends nothing.
const (
	Unknown Tri = iota
	False
	True
	Between
)

var triNames = [...]string{"unknown", "false", "true", "between"}

// String returns the answer's name.
func (t Tri) String() string {
	if int(t) >= len(triNames) {
		return fmt.Sprintf("tri %d", uint8(t))
	}
	return triNames[t]
}

// Truth is True or False.
func Truth(b bool) Tri {
	if b {
		return True
	}
	return False
}

// Finding is one rule's answer about one subject at one instant. Title and
// Body tell of the condition as it is: what is the matter while it is True, how
// it ended while it is False. A False finding without a title ends untold.
type Finding struct {
	Key       Key
	Condition Tri
	Severity  Severity
	Title     string
	Body      string
	Hold      time.Duration // True for this long before it is told
	Clear     time.Duration // False for this long before it is over
	Repeat    time.Duration // told again this often until acknowledged; 0: never
	Once      bool          // told once for this key, for ever
	Wish      string        // identifies who asked to be told this; such a finding passes quiet hours
}

// Hysteresis judges noisy values with one threshold to set and another to
// clear: a Set above Clear warns of high values, a Set below Clear of low ones.
// It remembers by key; the zero memory is empty.
type Hysteresis struct {
	Set, Clear float64
	last       map[Key]Tri
}

// Judge is True at Set and beyond, False at Clear and beyond, and between the
// two whatever it was before. A first value between the two and one that is
// not a number are Unknown.
func (h *Hysteresis) Judge(key Key, value float64) Tri {
	answer := band{set: h.Set, clear: h.Clear}.judge(value)
	switch answer {
	case Unknown:
		return Unknown
	case Between:
		answer = h.last[key]
	}
	if h.last == nil {
		h.last = map[Key]Tri{}
	}
	h.last[key] = answer
	return answer
}

// Forget drops what is remembered of a key that will not come again.
func (h *Hysteresis) Forget(key Key) { delete(h.last, key) }

// band is two thresholds without a memory: above each other they warn of high
// values, else of low ones.
type band struct{ set, clear float64 }

// judge is Unknown of what is not a number.
func (b band) judge(value float64) Tri {
	sign := 1.0
	if b.set < b.clear {
		sign = -1
	}
	switch {
	case math.IsNaN(value):
		return Unknown
	case sign*value >= sign*b.set:
		return True
	case sign*value <= sign*b.clear:
		return False
	}
	return Between
}
