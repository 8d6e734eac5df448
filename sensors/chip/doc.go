// Package chip reads sensor chips on a wire.
//
// Where a driver of periph.io fits, it is used, with the checks it leaves out
// (BME280, HDC302x, AHT20, MCP9808); where it would take a fault for a value, or
// there is none, the registers are read here, and the file says why. Whatever the
// chip: it is identified when it is opened and, where it has a number of its own,
// at every read; what comes with a bad check sum, from a dead wire, from before
// the first conversion or from a chip that has lost its settings is an error; and
// nothing waits without a limit. After an error the chip has to be opened anew,
// which package poll does.
package chip
