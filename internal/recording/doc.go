// Package recording reads a recorded room: a CSV of readings, row by row, into
// the samples that the drying model follows. A bad row is reported and left
// out; nothing is left out silently.
package recording
