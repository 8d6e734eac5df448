// Package plausible says which readings speak against themselves or each other:
// too far, too fast, too still, too wet for too long, or drifting from a twin.
// Such a reading is suspect, and a suspect reading reaches no drying model. It
// also takes the warmth of a chip's own board out of its readings.
//
// It is pure: time is the time since the machine started, and an argument.
package plausible
