// Package learn draws from touch tests how much longer than its label says a
// product takes in one shop. It is pure and deterministic: the same tests in,
// the same answer out, and a test is undone by learning again without it.
//
// The logarithm of a coat's factor is the sum of an effect of the shop, one of
// the product and one of the coat. A touch test bounds it: what is wet at some
// point of the label's clock has not reached set-to-touch there, what is dry has
// passed tack-free. LEARN.md derives the method and gives its figures.
package learn
