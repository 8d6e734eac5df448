package doctor

import (
	"fmt"
	"os"
	"os/user"
	"strconv"
	"strings"

	"golang.org/x/sys/unix"
)

// User is who asks, and would use the buses.
type User struct {
	Name   string
	mayUse func(path string) error
}

// Myself is the user of this process.
func Myself() User {
	name := "uid " + strconv.Itoa(os.Getuid())
	if u, err := user.Current(); err == nil {
		name = u.Username
	}
	return User{Name: name, mayUse: func(path string) error {
		if err := unix.Access(path, unix.R_OK|unix.W_OK); err != nil {
			return fmt.Errorf("%s: %w", path, err)
		}
		return nil
	}}
}

// groupName finds a group's name by its number.
func (m machine) groupName(gid uint32) string {
	want := strconv.FormatUint(uint64(gid), 10)
	text, err := os.ReadFile(m.path("etc/group"))
	if err == nil {
		for line := range strings.Lines(string(text)) {
			fields := strings.Split(strings.TrimSpace(line), ":")
			if len(fields) >= 3 && fields[2] == want {
				return fields[0]
			}
		}
	}
	return "number " + want
}
