package footprint

import (
	"errors"
	"fmt"
	"os"

	"golang.org/x/sys/unix"
)

// ReleaseProgram lets go of the pages of the program's own file that are mapped
// for reading alone: its text and its constants. A start touches most of them,
// through tables, initialisation and what the kernel maps around each fault; a
// running program, a part.
//
// It frees nothing for good: the pages stay in the system's cache for as long as
// that has room, and what is in use is mapped again when it is next touched, from
// there or from the disk. It lowers what counts as the process's own, and what a
// system that is short of memory has to look through.
//
// A mapping that holds pages of the process's own making is left alone.
func ReleaseProgram() error {
	exe, err := os.Readlink("/proc/self/exe")
	if err != nil {
		return fmt.Errorf("find the program's own file: %w", err)
	}
	smaps, err := os.Open("/proc/self/smaps")
	if err != nil {
		return fmt.Errorf("read the program's mappings: %w", err)
	}
	defer smaps.Close()
	found, err := readOnly(smaps, exe)
	if err != nil {
		return fmt.Errorf("read the program's mappings: %w", err)
	}
	var errs []error
	for _, m := range found {
		if _, _, errno := unix.Syscall(unix.SYS_MADVISE, m.from, m.to-m.from, unix.MADV_DONTNEED); errno != 0 {
			errs = append(errs, fmt.Errorf("let go of the program's pages from %x to %x: %w", m.from, m.to, errno))
		}
	}
	return errors.Join(errs...)
}
