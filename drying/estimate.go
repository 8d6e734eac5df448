package drying

import "time"

// Expectation is a stage's time under constant conditions. Expected, Low and
// High are zero where Blocked says why no time can be given. Low to High is
// meant to hold the truth eight times in ten.
type Expectation struct {
	Stage               Stage
	Stated              time.Duration // at the label's conditions
	Assumed             bool          // Stated is the kind's default, not on the label
	Pace                float64       // label hours per clock hour
	Expected, Low, High time.Duration
	Blocked             []Reason
}

// Estimate is where a coat stands on its way to one stage, seen from one
// instant. Blocked says what keeps the clock still at that instant and since
// when; the times then count on the projected conditions. Likely, Low and High
// are zero where no time can be given, and Blocked then says why. Once
// Reached, Likely is when the stage was reached by the model; Low and High
// keep their width, for touch decides.
type Estimate struct {
	Stage   Stage
	Stated  time.Duration
	Assumed bool
	Pace    float64 // now, with what was learnt of the product
	Done    float64 // share of the way that is behind the coat, 0 to 1
	// Gained is the share of the stated time that has passed on the label's own
	// clock. It leaves out what was learnt, goes on growing once the stage is
	// reached, and is what a touch test is evidence against.
	Gained            float64
	Reached           bool
	Likely, Low, High time.Time
	Blocked           []Reason
	// Uncovered is how long, up to now or until the stage was reached, there
	// were no readings to count by. Nothing is gained in it, but Low allows
	// for the coat having dried on.
	Uncovered time.Duration
	// Doubts says what makes the readings behind the estimate doubtful, though
	// they are counted: a gap of a minute or more, or an order that is not that of
	// time.
	Doubts []Reason
}
