// Package peers measures recoat against what people would otherwise wire
// together, in one run on one machine. It is tests alone, and skips whatever is
// not installed; `make peers` installs and runs it.
package peers
