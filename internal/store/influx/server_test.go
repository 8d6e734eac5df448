package influx

import (
	"bytes"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"recoat/internal/store"
	"recoat/internal/store/storetest"
)

// server is an InfluxDB of its own for the tests of one function.
type server struct{ url string }

const (
	serverUser     = "keeper"
	serverPassword = "a-plain-test-secret"
)

// startServer starts influxd, which is looked for on the path and where `make
// influxd` puts it.
func startServer(t testing.TB) server {
	t.Helper()
	path, err := exec.LookPath("influxd")
	if err != nil {
		path, err = exec.LookPath("../../../build/influxd")
	}
	if err != nil {
		t.Skip("influxd is not installed (make influxd builds it): the store cannot be tried on a real server")
	}
	folder := t.TempDir()
	s := server{"http://" + freePort(t)}
	rpc := freePort(t)
	text := fmt.Sprintf("reporting-disabled = true\nbind-address = %q\n[meta]\ndir = %q\n[data]\ndir = %q\nwal-dir = %q\n[http]\nbind-address = %q\nauth-enabled = true\nflux-enabled = true\nlog-enabled = false\n[logging]\nlevel = \"error\"\n",
		rpc, folder+"/meta", folder+"/data", folder+"/wal", strings.TrimPrefix(s.url, "http://"))
	conf := filepath.Join(folder, "influxdb.conf")
	if err := os.WriteFile(conf, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	c := exec.CommandContext(t.Context(), path, "-config", conf)
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = c.Wait() }) // the test's context has ended it
	s.await(t)
	create := fmt.Sprintf(`CREATE USER %s WITH PASSWORD '%s' WITH ALL PRIVILEGES`, serverUser, serverPassword)
	for end := time.Now().Add(time.Minute); s.command(t, create, false) != nil || s.command(t, "SHOW DATABASES", true) != nil; time.Sleep(50 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatal("influxd makes no user")
		}
	}
	return s
}

func freePort(t testing.TB) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = l.Close() }()
	return l.Addr().String()
}

func (s server) await(t testing.TB) {
	t.Helper()
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		if r, err := http.Get(s.url + "/ping"); err == nil {
			_ = r.Body.Close()
			return
		}
	}
	t.Fatal("influxd does not answer")
}

// command runs a statement of administration.
func (s server) command(t testing.TB, statement string, admitted bool) error {
	t.Helper()
	r, err := http.NewRequest(http.MethodPost, s.url+"/query?q="+url.QueryEscape(statement), nil)
	if err != nil {
		t.Fatal(err)
	}
	if admitted {
		r.SetBasicAuth(serverUser, serverPassword)
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = answer.Body.Close() }()
	body, err := io.ReadAll(answer.Body)
	if err == nil && (answer.StatusCode != http.StatusOK || bytes.Contains(body, []byte(`"error"`))) {
		err = fmt.Errorf("%s: %s: %s", statement, answer.Status, body)
	}
	return err
}

var databases atomic.Int64

// config is a Store's in a database of its own.
func (s server) config(t testing.TB) Config {
	t.Helper()
	db := fmt.Sprintf("shop%d", databases.Add(1))
	cfg := Config{
		URL: s.url, Token: serverUser + ":" + serverPassword, Readings: db + "/readings", Rollups: db + "/rollups",
		Queue: filepath.Join(t.TempDir(), "queue.db"), Log: slog.New(slog.NewTextHandler(t.Output(), nil)),
	}
	if err := Prepare(t.Context(), cfg, Retention); err != nil {
		t.Fatal(err)
	}
	return cfg
}

func openAt(t testing.TB, cfg Config) *Store {
	t.Helper()
	s, err := Open(t.Context(), cfg)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	return s
}

func TestContract(t *testing.T) {
	at := startServer(t)
	storetest.Run(t, func(t *testing.T) store.Readings { return openAt(t, at.config(t)) })
}

func TestDurable(t *testing.T) {
	at := startServer(t)
	cfg := at.config(t)
	storetest.Durable(t, func(t *testing.T, folder string) (store.Readings, func() error) {
		cfg.Queue = filepath.Join(folder, "queue.db")
		s := openAt(t, cfg)
		return s, s.Close
	})
}
