// Package emulated plays sensor chips down to their registers and files, so
// that the real drivers can be run, and made to fail, without hardware.
package emulated
