package access

import "fmt"

// Role is what a person or a screen may do.
type Role string

// The owner may do everything; a helper may read all and note what was done and
// found, and not configure; a wall display may look at what it shows.
const (
	Owner  Role = "owner"
	Helper Role = "helper"
	Wall   Role = "wall"
)

// ParseRole reads a role as people write it.
func ParseRole(s string) (Role, error) {
	switch r := Role(s); r {
	case Owner, Helper, Wall:
		return r, nil
	}
	return "", &InputError{"the role", fmt.Sprintf("is owner, helper or wall, not %q", s)}
}

// Visitor is who asks.
type Visitor struct {
	Name string
	Role Role
}

// InputError says what is wrong with what a person entered.
type InputError struct{ What, Problem string }

func (e *InputError) Error() string { return e.What + " " + e.Problem }
