package room

import (
	"time"

	"recoat/drying"
)

// Job is a coat as a room follows it: the coat, and where the journal says it
// lies.
type Job struct {
	ID      string // the coat's, "c-0007"
	Piece   string
	Part    string
	Step    string // "colour 1 of 2", empty outside a schedule
	Product drying.Product
	Applied time.Time
	Film    drying.Microns
	Probe   string // of the part's surface, empty where it has none
	// Earlier are the conditions that the part met before it lay as it lies now, in
	// order of time: in another room, or under another probe. Since is when that
	// began, zero where it lay so all along.
	Earlier []drying.Sample
	Since   time.Time
	// ThicknessMM is that of the part's board, 0 where it is not known: without
	// a probe, the surface is reckoned to follow the air by it.
	ThicknessMM float64
	Cautions    []string
	Due         bool          // another coat is still to come on the part
	Refuted     uint32        // touch tests that found it short of dry: each makes "ready" worth telling anew
	Learnt      drying.Learnt // from touch tests
	Lesson      string        // the sentence that says so, empty where nothing was learnt
}

// title names the job for a person.
func (j Job) title() string {
	if j.Part == "" {
		return j.Piece
	}
	return j.Piece + ", " + j.Part
}

// waits lists the stages a finisher acts on, in the order a coat asks for them.
var waits = []drying.Stage{drying.Sandable, drying.DryToRecoat, drying.Handle, drying.Cured}

// next returns the index of the estimate that the finisher waits for: the
// stage not yet reached that comes soonest, -1 when none is left. Sanding counts
// only where the label speaks of it: not every coat is sanded.
func next(estimates []drying.Estimate) int {
	best := -1
	for _, stage := range waits {
		for i, e := range estimates {
			if e.Stage != stage || e.Reached || stage == drying.Sandable && e.Assumed {
				continue
			}
			if best < 0 || e.Stated < estimates[best].Stated {
				best = i
			}
		}
	}
	return best
}

// find returns the estimate of a stage.
func find(estimates []drying.Estimate, stage drying.Stage) (drying.Estimate, bool) {
	for _, e := range estimates {
		if e.Stage == stage {
			return e, true
		}
	}
	return drying.Estimate{}, false
}
