package main

import (
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"runtime/metrics"
	"strconv"
	"strings"
	"time"

	"recoat/internal/footprint"
)

// ceilingShare is the share of what the control group allows that the collector
// keeps below; the rest is for stacks and for what it does not see.
const ceilingShare = 0.85

// collectEarly is how much the heap may grow between collections, in per cent:
// less than the usual hundred, since memory is scarcer here than time. A room's
// work is done in milliseconds once a minute.
const collectEarly = 40

// profileNothing has no allocation sampled, which saves the tables of samples.
func profileNothing() { runtime.MemProfileRate = 0 }

// profileUsually has allocations sampled from now on, for those who look at
// profiles.
func profileUsually() {
	if runtime.MemProfileRate == 0 {
		runtime.MemProfileRate = usualSample
	}
}

// usualSample is the runtime's own rate: a sample of every so many bytes.
const usualSample = 512 << 10

// keepSmall has the garbage collector run early, unless GOGC says otherwise.
func keepSmall() {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(collectEarly)
	}
}

// How often is looked whether there is memory to give back, and how much more
// than was in use at the last collection is worth one.
const (
	everyLook   = 5 * time.Second
	worthGiving = 4 << 20 // bytes
)

// startWorks is for how long after a start pages of the program are touched that
// are not looked at again.
const startWorks = time.Minute

// giveBack collects and returns to the system what a start, a page or the work
// of a quarter of an hour took for a moment, until ctx ends: the runtime by
// itself keeps what it once needed for long. What the start alone needed of the
// program's file is let go of once.
func giveBack(ctx context.Context) error {
	look := time.NewTicker(everyLook)
	defer look.Stop()
	started := time.NewTimer(startWorks)
	defer started.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-started.C:
			// Where that is not to be had, all goes on as before.
			_ = footprint.ReleaseProgram()
		case <-look.C:
			if spare() > worthGiving {
				debug.FreeOSMemory()
			}
		}
	}
}

// spare is how many bytes the heap holds beyond what was in use when it was last
// collected.
func spare() int64 {
	held := []metrics.Sample{
		{Name: "/memory/classes/heap/objects:bytes"}, {Name: "/memory/classes/heap/free:bytes"}, {Name: "/gc/heap/live:bytes"},
	}
	metrics.Read(held)
	return int64(held[0].Value.Uint64()) + int64(held[1].Value.Uint64()) - int64(held[2].Value.Uint64())
}

// keepBelowCeiling has the garbage collector keep below what the service manager
// allows this process, unless GOMEMLIMIT says otherwise. Without a ceiling it
// changes nothing.
func keepBelowCeiling(root string) {
	if os.Getenv("GOMEMLIMIT") != "" {
		return
	}
	if limit, found := ceiling(root); found {
		debug.SetMemoryLimit(int64(float64(limit) * ceilingShare))
	}
}

// ceiling is the least that this process's control group and those above it
// allow, in bytes (Linux, Documentation/admin-guide/cgroup-v2.rst: memory.high,
// memory.max, and the line of proc/self/cgroup that begins with "0::").
func ceiling(root string) (limit uint64, found bool) {
	group, err := ownGroup(root)
	if err != nil {
		return 0, false
	}
	limit = math.MaxUint64
	for dir := group; ; dir = filepath.Dir(dir) {
		for _, name := range []string{"memory.high", "memory.max"} {
			text, err := os.ReadFile(filepath.Join(root, "sys/fs/cgroup", dir, name))
			if err != nil {
				continue
			}
			if n, err := strconv.ParseUint(strings.TrimSpace(string(text)), 10, 64); err == nil && n > 0 {
				limit, found = min(limit, n), true
			}
		}
		if dir == "/" {
			return limit, found
		}
	}
}

func ownGroup(root string) (string, error) {
	text, err := os.ReadFile(filepath.Join(root, "proc/self/cgroup"))
	if err != nil {
		return "", err
	}
	for line := range strings.Lines(string(text)) {
		if path, ok := strings.CutPrefix(strings.TrimSpace(line), "0::/"); ok {
			return filepath.Join("/", path), nil
		}
	}
	return "", errors.New("proc/self/cgroup names no group of version 2")
}
