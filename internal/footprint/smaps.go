package footprint

import (
	"bufio"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// mapping is a span of addresses, the end excluded.
type mapping struct{ from, to uintptr }

// readOnly returns the private mappings of a file that are for reading or running
// alone and hold no page but the file's own, from text as in proc_pid_smaps(5). A
// mapping whose text does not say so is left out.
func readOnly(smaps io.Reader, file string) ([]mapping, error) {
	var found []mapping
	candidate := false
	var at mapping
	lines := bufio.NewScanner(smaps)
	for lines.Scan() {
		line := lines.Text()
		if m, perms, path, head, err := header(line); err != nil {
			return nil, err
		} else if head {
			at, candidate = m, path == file && (perms == "r--p" || perms == "r-xp")
			continue
		}
		if kb, ok := strings.CutPrefix(line, "Anonymous:"); ok && candidate {
			if strings.TrimSpace(kb) == "0 kB" {
				found = append(found, at)
			}
			candidate = false
		}
	}
	return found, lines.Err()
}

// header reads the line that a mapping begins with; head is false for all others:
// those begin with a word and a colon.
func header(line string) (m mapping, perms, path string, head bool, err error) {
	fields := strings.SplitN(line, " ", 6)
	from, to, ok := strings.Cut(fields[0], "-")
	if !ok || len(fields) < 6 || strings.HasSuffix(fields[0], ":") {
		return mapping{}, "", "", false, nil
	}
	begin, err1 := strconv.ParseUint(from, 16, strconv.IntSize)
	end, err2 := strconv.ParseUint(to, 16, strconv.IntSize)
	if err1 != nil || err2 != nil || end < begin {
		return mapping{}, "", "", false, fmt.Errorf("%q is no span of addresses", fields[0])
	}
	return mapping{uintptr(begin), uintptr(end)}, fields[1], strings.TrimLeft(fields[5], " "), true, nil
}
