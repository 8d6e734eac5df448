// Package chip reads sensor chips on a wire, through the drivers of periph.io
// and with the checks those leave out.
package chip
