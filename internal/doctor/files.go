package doctor

import (
	"io"
	"os"
	"path/filepath"
	"strings"
)

// A file of the kernel's is a page at most.
const maxFile = 4096

// machine is a root path that stands for the root of the file system.
type machine string

func (m machine) path(name string) string { return filepath.Join(string(m), name) }

// text reads a file of one line or few; empty where it is not there.
func (m machine) text(name string) string {
	f, err := os.Open(m.path(name))
	if err != nil {
		return ""
	}
	defer func() { _ = f.Close() }()
	b, err := io.ReadAll(io.LimitReader(f, maxFile))
	if err != nil {
		return ""
	}
	// The device tree ends its texts with a zero byte.
	return strings.TrimRight(strings.TrimSpace(string(b)), "\x00")
}

// entries lists the names in a folder that begin with prefix, in order.
func (m machine) entries(folder, prefix string) []string {
	list, err := os.ReadDir(m.path(folder))
	if err != nil {
		return nil
	}
	var names []string
	for _, e := range list {
		if strings.HasPrefix(e.Name(), prefix) {
			names = append(names, e.Name())
		}
	}
	return names
}
