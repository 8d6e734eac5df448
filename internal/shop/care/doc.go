// Package care says what the buyer of a piece should know: what is on it, how
// to treat it until it is cured and after, the mix for touching it up. It is a
// pure document model; pages and files render it. What the finisher noted of
// the client is no part of it.
package care
