// Package odour estimates when the smell of a finish has gone so far that a
// piece may go home. It is a rough estimate of smell alone: nothing here says
// anything of what is in the air or does to anybody. It is pure: time is an
// argument. drying/learn/LEARN.md derives it.
package odour
