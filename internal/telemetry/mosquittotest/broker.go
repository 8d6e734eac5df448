// Package mosquittotest runs a real mosquitto for tests, on the files that are
// shipped for it with only their paths and their port replaced.
package mosquittotest

import (
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// Options is what a test adds to the shipped files.
type Options struct {
	Users    map[string]string // names and passwords
	Access   string            // in place of the shipped access list; empty: that
	More     string            // lines at the end of the access list
	Settings string            // lines at the end of the shipped configuration
	Forgets  bool              // it keeps nothing on disk: a restart forgets every session
}

// Broker is a mosquitto that runs.
type Broker struct {
	URL    string // ssl://localhost:port
	Addr   string // the same as host:port
	CA     string // file of the authority that signed its certificate
	Folder string

	conf    string
	command *exec.Cmd
	log     *tail
}

const patience = 30 * time.Second

// Start starts a broker that ends with the test, which is skipped where
// mosquitto is not installed.
func Start(t testing.TB, o Options) *Broker {
	t.Helper()
	for _, program := range []string{"mosquitto", "mosquitto_passwd", "openssl"} {
		if _, err := exec.LookPath(program); err != nil {
			t.Skipf("%s is not installed: the broker's shipped files cannot be tried", program)
		}
	}
	b := &Broker{Folder: t.TempDir(), log: &tail{}}
	port := FreePort(t)
	b.URL, b.Addr = "ssl://localhost:"+port, "127.0.0.1:"+port
	shipped := filepath.Join(root(t), "deploy", "mosquitto")
	certificates := filepath.Join(b.Folder, "certs")
	b.CA = filepath.Join(certificates, "recoat-ca.pem")
	run(t, filepath.Join(shipped, "make-certificates.sh"), certificates, "localhost", "127.0.0.1")
	access := o.Access
	if access == "" {
		access = read(t, filepath.Join(shipped, "recoat.access"))
	}
	place(t, filepath.Join(b.Folder, "recoat.access"), access+"\n"+o.More)
	b.users(t, o.Users)
	text := strings.NewReplacer("/etc/mosquitto/certs", certificates, "/etc/mosquitto", b.Folder, "listener 8883", "listener "+port+" 127.0.0.1").
		Replace(read(t, filepath.Join(shipped, "recoat.conf")))
	place(t, filepath.Join(b.Folder, "conf.d", "recoat.conf"), text+o.Settings)
	// The rest of the file is Debian's own, which keeps sessions and includes the folder.
	me, err := user.Current() // it would become somebody who may not read the test's files
	if err != nil {
		t.Fatal(err)
	}
	b.conf = filepath.Join(b.Folder, "mosquitto.conf")
	place(t, b.conf, fmt.Sprintf("user %s\npersistence %t\npersistence_location %s/\nlog_dest stderr\ninclude_dir %s\n",
		me.Username, !o.Forgets, b.Folder, filepath.Join(b.Folder, "conf.d")))
	t.Cleanup(func() {
		if t.Failed() {
			t.Log(b.log.String())
		}
	})
	t.Cleanup(b.end)
	b.Begin(t)
	return b
}

func (b *Broker) users(t testing.TB, users map[string]string) {
	t.Helper()
	var lines strings.Builder
	for name, password := range users {
		fmt.Fprintf(&lines, "%s:%s\n", name, password)
	}
	list := filepath.Join(b.Folder, "recoat.passwords")
	place(t, list, lines.String())
	run(t, "mosquitto_passwd", "-U", list)
}

// Begin starts it again after Stop or Kill, on the same port.
func (b *Broker) Begin(t testing.TB) {
	t.Helper()
	b.command = exec.Command("mosquitto", "-c", b.conf)
	b.command.Stderr = b.log
	if err := b.command.Start(); err != nil {
		t.Fatal(err)
	}
	for end := time.Now().Add(patience); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		if conn, err := net.Dial("tcp", b.Addr); err == nil {
			_ = conn.Close()
			return
		}
	}
	t.Fatalf("mosquitto does not take the shipped configuration:\n%s", b.log)
}

// Stop ends it in order: it writes down what it keeps.
func (b *Broker) Stop(t testing.TB) { b.signal(t, syscall.SIGTERM) }

// Kill ends it as a power cut does.
func (b *Broker) Kill(t testing.TB) { b.signal(t, syscall.SIGKILL) }

func (b *Broker) signal(t testing.TB, s syscall.Signal) {
	t.Helper()
	if err := b.command.Process.Signal(s); err != nil {
		t.Fatal(err)
	}
	_ = b.command.Wait() // a killed process's end is an error
	b.command = nil
}

func (b *Broker) end() {
	if b.command != nil {
		_ = b.command.Process.Kill()
		_ = b.command.Wait()
	}
}

// Log is what it has said.
func (b *Broker) Log() string { return b.log.String() }

// tail keeps the end of what is written to it.
type tail struct {
	mu   sync.Mutex
	text []byte
}

const tailBytes = 64 << 10

func (l *tail) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.text = append(l.text, p...)
	l.text = l.text[max(0, len(l.text)-tailBytes):]
	return len(p), nil
}

func (l *tail) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return string(l.text)
}

// root is the folder of the module.
func root(t testing.TB) string {
	t.Helper()
	folder, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(folder, "go.mod")); err == nil {
			return folder
		}
		if up := filepath.Dir(folder); up != folder {
			folder = up
			continue
		}
		t.Fatal(errors.New("no go.mod above the test"))
	}
}

// FreePort is a port that nobody has now.
func FreePort(t testing.TB) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = l.Close() }()
	_, port, err := net.SplitHostPort(l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	return port
}

func run(t testing.TB, program string, args ...string) {
	t.Helper()
	if out, err := exec.Command(program, args...).CombinedOutput(); err != nil {
		t.Fatalf("%s: %v\n%s", program, err, out)
	}
}

func read(t testing.TB, path string) string {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

func place(t testing.TB, path, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}
