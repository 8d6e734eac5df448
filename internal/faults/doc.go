// Package faults holds the fault campaign: nodes, a broker and a hub as
// processes of their own, a nemesis that kills them, cuts and half-opens the
// network, fills their disks and steps their clocks, and a checker that looks at
// what is left. It is tests alone; FAULTS.md says what is expected of every
// fault and which test shows it.
package faults
