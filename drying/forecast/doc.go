// Package forecast says what the air of a room and the surface of a piece will
// do over the next two days, from nothing but the room's own history: an
// ensemble of whole trajectories, whose spread is that of the method's own past
// errors. It is pure and deterministic by its seed.
//
// # Method
//
// Readings become means over half hours. For each quantity and each lead two
// forecasts are added: the mean of that half hour of the day, on days of its
// kind (working days or weekends), with what the room differs from it now dying
// away over two days; and a ridge regression on a few differences between the
// present, the day before and those means.
//
// Errors of forecasts made in the past, of which only those count whose truth
// is known, give the width: weighted towards the same hour of the day and
// towards the recent, mirrored about zero, and widened or narrowed by how often
// the intervals of the last days held. Trajectories keep the order that errors
// of past forecasts had among leads and quantities, so that a warm hour is
// followed by a warm hour; those past forecasts are drawn by the same weights.
//
// # How the defaults were chosen
//
// By hand, for pinball loss and coverage together, on a public fortnight of one
// office and on three simulated rooms with seeds 1 to 4 and 11 to 14. One office
// is one office, and it was looked at while choosing. FORECAST.md has the
// figures, and says for which seeds no default was chosen.
package forecast
