// Package display draws what a small display in the room shows: whether the room
// is fit to coat, the dew margin, and what is ready next. The hub makes the words
// of a room's snapshot; the node draws them on an SSD1306 of 128 by 64 pixels.
package display
