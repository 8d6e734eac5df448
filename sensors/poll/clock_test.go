package poll

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"
)

func TestBootID(t *testing.T) {
	for text, good := range map[string]bool{
		boot + "\n":         true,
		boot:                true,
		"":                  false,
		"unknown\n":         false,
		boot + "/../escape": false,
	} {
		root := t.TempDir()
		path := filepath.Join(root, "proc/sys/kernel/random/boot_id")
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		got, err := BootID(root)
		if good && (err != nil || got != boot) || !good && err == nil {
			t.Errorf("%q gives %q, %v", text, got, err)
		}
	}
	if _, err := BootID(t.TempDir()); err == nil {
		t.Error("a machine without the file has a boot id")
	}
}

// The kernel's own account of its uptime, proc_uptime(5), is the check.
func TestSystemClockAgreesWithTheKernel(t *testing.T) {
	text, err := os.ReadFile("/proc/uptime")
	if err != nil {
		t.Skipf("this machine does not show its uptime: %v", err)
	}
	var seconds float64
	if _, err := fmt.Sscan(string(text), &seconds); err != nil {
		t.Fatal(err)
	}
	first := SystemClock{}.Now()
	second := SystemClock{}.Now()
	if off := first.Uptime - time.Duration(seconds*1e9); off < -time.Second || off > time.Minute {
		t.Errorf("uptime is %s, the kernel says %v s", first.Uptime, seconds)
	}
	if second.Uptime < first.Uptime {
		t.Errorf("uptime went back from %s to %s", first.Uptime, second.Uptime)
	}
	if d := time.Since(first.Wall); d < 0 || d > time.Minute {
		t.Errorf("the wall clock is off by %s", d)
	}
}
