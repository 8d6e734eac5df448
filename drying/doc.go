// Package drying computes how a coat dries: from a product as its label states
// it, the film put on, and the conditions since, to the stages it has reached
// and the times of those still to come. It is pure: no I/O, no goroutines, no
// clock; time is an argument.
package drying
