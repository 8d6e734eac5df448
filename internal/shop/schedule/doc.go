// Package schedule says what is next on each part of a piece, what that waits
// for, and when: steps that wait for a stage of an earlier coat, not for a
// clock, and for gates across parts. It is pure, and only advises: the label
// and local rules come first, and touch decides.
package schedule
