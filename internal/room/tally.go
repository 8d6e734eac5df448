package room

import "recoat/internal/alert"

// Tally counts what a room holds.
type Tally struct {
	Nodes, Heard uint32 // nodes, and those that are not silent
	Coats        uint32 // that are followed
	Warnings     uint32 // alerts that stand and are more than news
}

// Tally counts what the room holds now.
func (r *Room) Tally() Tally {
	t := Tally{Coats: uint32(len(r.jobs))}
	for _, n := range r.inOrder() {
		t.Nodes++
		if !r.nodeNow(n).Silent {
			t.Heard++
		}
	}
	for _, e := range r.cfg.Engine.Episodes() {
		if e.Stands() && e.Severity >= alert.Warning {
			t.Warnings++
		}
	}
	return t
}
