// Package doctor looks at a machine below a root path, as a person would who has
// just wired it: which buses it has and who may use them, what has hold of its
// sensors, its clock, its supply, its heat and its card. It changes nothing.
package doctor

// Finding is one line: what was looked at, how it is, and what to do where it is
// not well.
type Finding struct {
	Subject string `json:"subject"`
	State   string `json:"state"` // OK, NotOK or NotThere
	Detail  string `json:"detail"`
	Do      string `json:"do,omitempty"`
}

// The states of a finding.
const (
	OK       = "ok"
	NotOK    = "not ok"
	NotThere = "not there"
)
