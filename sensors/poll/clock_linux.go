package poll

import (
	"time"

	"golang.org/x/sys/unix"
)

// uptime includes the time the machine was suspended. The call fails only for a
// clock the kernel lacks, and it has this one since 2.6.39.
func uptime() time.Duration {
	var ts unix.Timespec
	if err := unix.ClockGettime(unix.CLOCK_BOOTTIME, &ts); err != nil {
		return 0
	}
	return time.Duration(ts.Nano())
}

// synchronised reports whether the kernel holds its clock for set, as
// adjtimex(2) tells it: a time daemon clears the flag once it has the time.
func synchronised() bool {
	var t unix.Timex
	state, err := unix.Adjtimex(&t)
	return err == nil && state != unix.TIME_ERROR && t.Status&unix.STA_UNSYNC == 0
}
