package faults

import (
	"syscall"
	"time"
)

// processor is the time this process has had of the processor.
func processor() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		panic(err) // it cannot be, of oneself
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
