// Package deploy holds what a machine needs to run recoat as a service, and the
// tests that load each file with the program it is for.
package deploy
