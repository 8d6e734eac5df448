// Package room holds what is known of one room and steps it from event to
// event: a round of readings arrived, the journal changed, time passed. Each
// step answers with effects for others to carry out. The package is pure: it
// touches no store, network or clock.
package room
