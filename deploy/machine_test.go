package deploy

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// machine is a small Debian, running its own systemd, that a test may do
// anything to.
type machine struct {
	folder string // what it changes lies in here
	base   string // what it was made from
	init   *exec.Cmd
	pid    int // of its first process
}

// newMachine starts a machine, or skips the test and says why it cannot.
func newMachine(t *testing.T) *machine {
	t.Helper()
	base, err := filepath.Abs("../build/root")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(filepath.Join(base, "ready")); err != nil {
		t.Skip("no Debian to install into: make packages-test makes one and tries the packages in it")
	}
	if os.Getuid() != 0 {
		t.Skip("only root may start a machine to try the packages in")
	}
	need(t, "unshare", "the packages")
	need(t, "nsenter", "the packages")
	folder, err := os.MkdirTemp("", "recoat-machine-")
	if err != nil {
		t.Fatal(err)
	}
	m := &machine{folder: folder, base: base}
	t.Cleanup(func() {
		m.stop(t)
		if err := os.RemoveAll(folder); err != nil {
			t.Error(err)
		}
	})
	m.start(t)
	return m
}

func (m *machine) start(t *testing.T) {
	t.Helper()
	m.init = exec.Command("unshare", "--pid", "--mount", "--uts", "--ipc", "--net", "--cgroup", "--fork", "--kill-child",
		"sh", "testdata/boot.sh", m.base, m.folder)
	said := &strings.Builder{}
	m.init.Stdout, m.init.Stderr = said, said
	if err := m.init.Start(); err != nil {
		t.Fatal(err)
	}
	for end := time.Now().Add(time.Minute); ; time.Sleep(100 * time.Millisecond) {
		if m.pid = child(m.init.Process.Pid); m.pid != 0 && m.running() {
			return
		}
		if time.Now().After(end) {
			t.Fatalf("no machine can be started here: %s", said)
		}
	}
}

// running says whether systemd has come up far enough to be asked.
func (m *machine) running() bool {
	out, err := m.command(context.Background(), "systemctl", "is-system-running").CombinedOutput()
	state := strings.TrimSpace(string(out))
	return state == "running" || state == "degraded" || err == nil
}

// stop takes the machine's supply away.
func (m *machine) stop(t *testing.T) {
	t.Helper()
	if m.init == nil || m.init.Process == nil {
		return
	}
	_ = m.init.Process.Kill()
	_ = m.init.Wait()
	m.init = nil
}

// child is the only child of a process, 0 while there is none.
func child(pid int) int {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/task/%d/children", pid, pid))
	if err != nil {
		return 0
	}
	first, _, _ := strings.Cut(strings.TrimSpace(string(text)), " ")
	n, err := strconv.Atoi(first)
	if err != nil {
		return 0
	}
	return n
}

// command is a program inside the machine, run by root.
func (m *machine) command(ctx context.Context, args ...string) *exec.Cmd {
	into := []string{"--target", strconv.Itoa(m.pid), "--pid", "--mount", "--uts", "--ipc", "--net", "--cgroup", "--root", "--wd"}
	c := exec.CommandContext(ctx, "nsenter", append(into, args...)...)
	c.Env = []string{"PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin", "LANG=C.UTF-8", "DEBIAN_FRONTEND=noninteractive"}
	return c
}

// try runs a shell's lines as the owner of the machine, who may use sudo.
func (m *machine) try(t *testing.T, lines string) (string, error) {
	t.Helper()
	ctx, stop := context.WithTimeout(t.Context(), 5*time.Minute)
	defer stop()
	out, err := m.command(ctx, "runuser", "--login", "owner", "--command", "set -e\n"+lines).CombinedOutput()
	return string(out), err
}

// must is try for lines that have to work.
func (m *machine) must(t *testing.T, lines string) string {
	t.Helper()
	out, err := m.try(t, lines)
	if err != nil {
		t.Fatalf("%s\n%v\n%s\n%s", lines, err, out, m.log(t))
	}
	return out
}

// log is what the services said.
func (m *machine) log(t *testing.T) string {
	t.Helper()
	out, _ := m.command(context.WithoutCancel(t.Context()), "journalctl", "--no-pager", "-n", "40").CombinedOutput()
	return string(out)
}

// bring puts a file into the owner's folder.
func (m *machine) bring(t *testing.T, path string) string {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	to := "/home/owner/" + filepath.Base(path)
	c := m.command(t.Context(), "sh", "-c", "cat > "+to+" && chmod 644 "+to)
	c.Stdin = strings.NewReader(string(text))
	if out, err := c.CombinedOutput(); err != nil {
		t.Fatalf("bring %s: %v %s", path, err, out)
	}
	return to
}

// built is the package for this machine, of the version tried or of the one
// before.
func built(t *testing.T, pattern string) string {
	t.Helper()
	found, err := filepath.Glob(pattern)
	if err != nil {
		t.Fatal(err)
	}
	if len(found) != 1 {
		t.Skipf("%d packages like %s: make packages-test builds one", len(found), pattern)
	}
	return found[0]
}
