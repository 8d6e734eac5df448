// Package simroom is a drying room made of physics: air that gains and loses
// heat and water vapour, a heater, doors, weather, wood that stores vapour,
// heavy pieces whose surfaces lag the air, and wet coats that dry on them. It
// stands in for a real room in demonstrations and tests.
//
// A Room is a state machine: Step moves it on, nothing else does. The same
// Config gives the same room to the last bit, however the time is divided
// into steps. A Rig shows a Room to emulated chips through imperfect sensors,
// and Record runs a room over weeks.
//
// Neither a Room nor a Rig may be used by two goroutines at once.
//
// The room is one well-mixed body of air, at one temperature with its walls'
// inner layer and its fittings. Energy is counted as sensible heat plus the
// latent heat of the vapour in the air; liquid and wood-bound water count as
// zero, so the heat of evaporation, condensation and sorption is one and the
// same.
package simroom
