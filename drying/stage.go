package drying

import "fmt"

// Stage is a state of a drying coat that a finisher acts on. Definitions follow
// ASTM D1640 and ISO 9117.
type Stage uint8

// The stages in the order in which a label usually reaches them. A label may
// give them in another order; nothing here relies on it.
const (
	SetToTouch  Stage = iota // a light touch takes nothing off
	DustFree                 // fibres blow off
	TackFree                 // no tack under light load
	Sandable                 // sands to powder
	DryToRecoat              // the next coat harms nothing
	Handle                   // may be moved, turned, reassembled
	Cured                    // chemically finished
	StageCount  int   = iota
)

var stageNames = [StageCount]string{"set-to-touch", "dust-free", "tack-free", "sandable", "dry-to-recoat", "handle", "cured"}

// Stages returns every stage, in order.
func Stages() []Stage {
	all := make([]Stage, StageCount)
	for i := range all {
		all[i] = Stage(i)
	}
	return all
}

// String returns the stage's name, such as "dry-to-recoat".
func (s Stage) String() string {
	if int(s) >= StageCount {
		return fmt.Sprintf("stage %d", uint8(s))
	}
	return stageNames[s]
}

var stageKeys = [StageCount]string{"touch", "dust_free", "tack_free", "sand", "recoat", "handle", "cure"}

// LabelKey returns the key under which a product file states the stage's time,
// such as "stated.recoat".
func (s Stage) LabelKey() string {
	if int(s) >= StageCount {
		return s.String()
	}
	return "stated." + stageKeys[s]
}

// MarshalText gives the stage's name.
func (s Stage) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText is the inverse of MarshalText.
func (s *Stage) UnmarshalText(text []byte) error {
	for i, n := range stageNames {
		if n == string(text) {
			*s = Stage(i)
			return nil
		}
	}
	return fmt.Errorf("no stage is called %q", text)
}
