package poll

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"time"
)

// Instant is one moment by the machine's clocks.
type Instant struct {
	Wall   time.Time
	Uptime time.Duration // since the machine started; never goes back
	Set    bool          // Wall can be trusted: something outside the machine has set it
}

// Clock tells the time.
type Clock interface{ Now() Instant }

// SystemClock is this machine's clock.
type SystemClock struct{}

// Now asks the kernel.
func (SystemClock) Now() Instant {
	return Instant{Wall: time.Now(), Uptime: uptime(), Set: synchronised()}
}

var bootID = regexp.MustCompile(`^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$`)

// BootID returns the identifier Linux draws anew each time the machine starts,
// from below root, which stands for the root of the file system.
func BootID(root string) (string, error) {
	path := filepath.Join(root, "proc/sys/kernel/random/boot_id")
	text, err := os.ReadFile(path)
	if err != nil {
		return "", fmt.Errorf("read the boot id: %w", err)
	}
	id := strings.TrimSpace(string(text))
	if !bootID.MatchString(id) {
		return "", fmt.Errorf("read the boot id: %s holds %.40q, not a UUID", path, id)
	}
	return id, nil
}
