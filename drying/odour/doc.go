// Package odour estimates when the smell of a finish has gone so far that a
// piece may go home. It is rough, and about smell alone. It is pure: time is an
// argument. drying/learn/LEARN.md gives its figures.
package odour
