package peers

import (
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// server is a peer that runs as a process of its own.
type server struct {
	t       *testing.T
	path    string
	args    []string
	home    string
	url     string
	alive   string   // a path that answers once it is up; empty: a port that opens
	env     []string // variables more
	command *exec.Cmd
}

// find looks for a program on the path and where `make peers` puts it.
func find(t *testing.T, name string) string {
	t.Helper()
	for _, n := range []string{name, "../../build/" + name} {
		if path, err := exec.LookPath(n); err == nil {
			return path
		}
	}
	t.Skipf("%s is not installed: nothing to measure against (make peers)", name)
	return ""
}

func port(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = l.Close() }()
	return l.Addr().String()
}

func (s *server) folder() string { return s.home }
func (s *server) memory() int64  { return resident(s.command.Process.Pid) }

func (s *server) start() error {
	s.command = exec.Command(s.path, s.args...)
	s.command.Env = append(os.Environ(), s.env...)
	if err := s.command.Start(); err != nil {
		return err
	}
	at := strings.TrimPrefix(s.url, "http://")
	for end := time.Now().Add(2 * time.Minute); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		if s.alive != "" {
			if r, err := http.Get(s.url + s.alive); err == nil {
				_ = r.Body.Close()
				if r.StatusCode/100 == 2 {
					return nil
				}
			}
			continue
		}
		if c, err := net.Dial("tcp", at); err == nil {
			return c.Close()
		}
	}
	return fmt.Errorf("%s does not come up", s.path)
}

func (s *server) stop() {
	if s.command == nil {
		return
	}
	_ = s.command.Process.Signal(os.Interrupt)
	_ = s.command.Wait()
	s.command = nil
}

func (s *server) restart() error {
	s.stop()
	return s.start()
}

// up starts a peer and sees to its end.
func up(t *testing.T, s *server) *server {
	t.Helper()
	s.t = t
	t.Cleanup(s.stop)
	if err := s.start(); err != nil {
		t.Fatal(err)
	}
	return s
}

func influxServer(t *testing.T) *server {
	path, home := find(t, "influxd"), t.TempDir()
	at, rpc := port(t), port(t)
	conf := filepath.Join(t.TempDir(), "influxdb.conf")
	text := fmt.Sprintf("reporting-disabled = true\nbind-address = %q\n[meta]\ndir = %q\n[data]\ndir = %q\nwal-dir = %q\n[http]\nbind-address = %q\nlog-enabled = false\nmax-row-limit = 0\n[logging]\nlevel = \"error\"\n",
		rpc, home+"/meta", home+"/data", home+"/wal", at)
	if err := os.WriteFile(conf, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	s := up(t, &server{path: path, args: []string{"-config", conf}, home: home, url: "http://" + at, alive: "/ping"})
	if err := post(s.url+"/query?q=CREATE+DATABASE+year", nil); err != nil {
		t.Fatal(err)
	}
	return s
}

func victoriaServer(t *testing.T) *server {
	path, home, at := find(t, "victoria-metrics"), t.TempDir(), port(t)
	return up(t, &server{path: path, home: home, url: "http://" + at, alive: "/health",
		args: []string{"-storageDataPath=" + home, "-httpListenAddr=" + at, "-retentionPeriod=100y", "-loggerLevel=ERROR", "-search.latencyOffset=0s", "-search.disableCache"}})
}

// processor is the time a process has had of the processor, in clock ticks of a
// hundredth of a second (proc(5), fields 14 and 15).
func processor(pid int) time.Duration {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		return 0
	}
	_, rest, _ := strings.Cut(string(text), ") ") // the name may hold anything
	fields := strings.Fields(rest)
	if len(fields) < 13 {
		return 0
	}
	user, _ := strconv.Atoi(fields[11])
	system, _ := strconv.Atoi(fields[12])
	return time.Duration(user+system) * 10 * time.Millisecond
}

// resident is the memory of a process that is in RAM, in bytes.
func resident(pid int) int64 {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0
	}
	for line := range strings.Lines(string(text)) {
		if rest, ok := strings.CutPrefix(line, "VmRSS:"); ok {
			kib, _ := strconv.ParseInt(strings.Fields(rest)[0], 10, 64)
			return kib << 10
		}
	}
	return 0
}
