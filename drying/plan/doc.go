// Package plan answers what a finisher asks before opening the tin: go now or
// wait, when each coat of a chain will be ready, how late the chain may begin
// and still be done in time, and what a warmer, drier or livelier room would
// save.
//
// It counts each member of an ensemble by itself: the room takes that member's
// course, and each product is off by that member's draw from the model's
// spread, the same for every coat of one product. A chance is a share of the
// members. Past the ensemble's end every member repeats its last day, which is
// a guess and no forecast: Planner.Until says from when.
//
// The package is pure and deterministic by its seed.
package plan
