//go:build !linux

package footprint

// ReleaseProgram does nothing: only Linux tells a process what it has mapped.
func ReleaseProgram() error { return nil }
