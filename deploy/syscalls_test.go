package deploy

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"
)

// groups are systemd's sets of system calls, by name, each with what it lists.
func groups(t *testing.T) map[string][]string {
	t.Helper()
	all := map[string][]string{}
	name := ""
	for line := range strings.Lines(output(t, need(t, "systemd-analyze", "the system calls that the services allow"), "syscall-filter", "--no-pager")) {
		line = strings.TrimRight(line, "\n")
		word := strings.TrimSpace(line)
		switch {
		case strings.HasPrefix(line, "@"):
			name = word
		case strings.HasPrefix(line, "#") || strings.HasPrefix(word, "#"):
		case word == "":
			name = ""
		case name != "":
			all[name] = append(all[name], word)
		}
	}
	return all
}

// calls adds every call of a set, or the call itself, to the list.
func calls(groups map[string][]string, name string, add func(string)) {
	if !strings.HasPrefix(name, "@") {
		add(name)
		return
	}
	for _, member := range groups[name] {
		calls(groups, member, add)
	}
}

// allowed is what a service's filter lets through, worked through line by line
// as systemd.exec(5) has it.
func allowed(t *testing.T, unit string) map[string]bool {
	t.Helper()
	all, let := groups(t), map[string]bool{}
	calls(all, "@default", func(c string) { let[c] = true })
	for _, line := range settings(read(t, unit)) {
		list, ok := strings.CutPrefix(line, "SystemCallFilter=")
		if !ok {
			continue
		}
		list, taken := strings.CutPrefix(list, "~")
		for _, name := range strings.Fields(list) {
			calls(all, name, func(c string) { let[c] = !taken })
		}
	}
	if len(let) < 200 || let["reboot"] {
		t.Fatalf("%d calls allowed, reboot %v: the filter was not understood", len(let), let["reboot"])
	}
	return let
}

var traced = regexp.MustCompile(`(?m)^\d+\s+([a-z_0-9]+)\(`)

// What recoat asks of the kernel, as strace sees it, its services let through:
// it would be refused without a word else, on the owner's machine alone.
func TestTheServicesLetThroughWhatRecoatAsks(t *testing.T) {
	strace := need(t, "strace", "what recoat asks of the kernel")
	const program = "../build/amd64/recoat"
	if _, err := os.Stat(program); err != nil {
		t.Skip("build/amd64/recoat is not built: make program-amd64 builds it")
	}
	folder := t.TempDir()
	config, trace := filepath.Join(folder, "recoat.toml"), filepath.Join(folder, "trace")
	if err := os.WriteFile(config, fmt.Appendf(nil, "[pages]\nlisten = \"0.0.0.0:0\"\n[broker]\nlisten = \"127.0.0.1:0\"\n[data]\nfolder = %q\n", folder+"/data"), 0o600); err != nil {
		t.Fatal(err)
	}
	asked := map[string]bool{}
	for _, args := range [][]string{{"upgrade", "--config", config}, {"doctor", "--config", config}, {"up", "--simulate", "--config", config}} {
		ctx, stop := context.WithTimeout(t.Context(), 20*time.Second)
		c := exec.CommandContext(ctx, strace, append([]string{"-f", "-qq", "-o", trace, program}, args...)...)
		// strace keeps the signal to itself: the whole group has to hear it.
		c.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
		c.Cancel = func() error { return syscall.Kill(-c.Process.Pid, syscall.SIGTERM) }
		c.WaitDelay = 10 * time.Second
		_ = c.Run() // stopped, for the second
		stop()
		for _, m := range traced.FindAllStringSubmatch(read(t, trace), -1) {
			asked[m[1]] = true
		}
	}
	for _, must := range []string{"adjtimex", "pwrite64", "fsync", "accept4"} {
		if !asked[must] {
			t.Errorf("%s was not seen: not all of recoat ran", must)
		}
	}
	let := allowed(t, "systemd/recoat.service")
	if os.Getuid() == 0 {
		let["fchown"] = true // SQLite gives a file to its database's owner as root alone
	}
	for call := range asked {
		if !let[call] {
			t.Errorf("%s is refused", call)
		}
	}
	t.Logf("%d calls asked, all among the %d let through", len(asked), len(let))
}
