// Package sensors is the vocabulary at the bottom of recoat: what a channel
// and a reading are, and how a sensor is asked for one. It imports nothing but
// the standard library; drivers, adapters and the simulated room live in the
// packages below it.
package sensors
