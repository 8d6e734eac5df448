package main

import (
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"runtime/debug"
	"strconv"
	"strings"
	"time"
)

// ceilingShare is the share of what the control group allows that the collector
// keeps below; the rest is for stacks and for what it does not see.
const ceilingShare = 0.85

// collectEarly is how much the heap may grow between collections, in per cent:
// less than the usual hundred, since memory is scarcer here than time. A room's
// work is done in milliseconds once a minute.
const collectEarly = 40

// keepSmall has the garbage collector run early, unless GOGC says otherwise.
func keepSmall() {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(collectEarly)
	}
}

// What a start takes for a moment, and then each day's heaviest work, is given
// back after so long.
const (
	firstReturn = 30 * time.Second
	everyReturn = 10 * time.Minute
)

// giveBack returns memory that is free to the system until ctx ends: the runtime
// by itself keeps what it once needed for long.
func giveBack(ctx context.Context) error {
	next := time.NewTimer(firstReturn)
	defer next.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-next.C:
			debug.FreeOSMemory()
			next.Reset(everyReturn)
		}
	}
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
