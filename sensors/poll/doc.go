// Package poll asks sensors for readings at a steady pace and lets no sensor,
// dead, slow or lying, spoil a round: a value that was not measured is missing,
// never the last one and never zero.
package poll
