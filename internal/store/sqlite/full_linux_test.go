package sqlite

import (
	"errors"
	"os"
	"path/filepath"
	"syscall"
	"testing"
)

// TestFullDisk fills a small file system of its own.
func TestFullDisk(t *testing.T) {
	folder := t.TempDir()
	err := syscall.Mount("tmpfs", folder, "tmpfs", 0, "size=8m")
	if errors.Is(err, syscall.EPERM) {
		t.Skip("a small file system can be mounted by root only; TestFull covers the store's own part")
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = syscall.Unmount(folder, syscall.MNT_DETACH) })
	ballast := filepath.Join(folder, "ballast")
	if err := os.WriteFile(ballast, make([]byte, 5<<20), 0o600); err != nil {
		t.Fatal(err)
	}
	s := openAt(t, filepath.Join(folder, "readings.db"))
	stored := fillUp(t, s, func() {})
	if got := count(t, s); got != stored {
		t.Errorf("%d rounds kept of %d acknowledged", got, stored)
	}
	if err := os.Remove(ballast); err != nil {
		t.Fatal(err)
	}
	resume(t, s, stored)
}
