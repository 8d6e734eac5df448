package deploy

import (
	"bytes"
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// timeSeries is a real influxd that runs on the shipped configuration, with its
// folders and its port exchanged for the test's.
type timeSeries struct {
	url    string
	client *http.Client
}

func freeAddress(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

func startTimeSeries(t *testing.T) timeSeries {
	t.Helper()
	influxd := need(t, "influxd", "the example configuration of the time series server (make influxd builds it)")
	need(t, "openssl", "the certificates of the example configurations")
	folder, address := t.TempDir(), freeAddress(t)
	output(t, "mosquitto/make-certificates.sh", folder, "localhost", "127.0.0.1")
	for from, to := range map[string]string{"recoat-broker.pem": "recoat-store.pem", "recoat-broker.key": "recoat-store.key"} {
		if err := os.Rename(filepath.Join(folder, from), filepath.Join(folder, to)); err != nil {
			t.Fatal(err)
		}
	}
	text := strings.NewReplacer("/var/lib/influxdb", folder, "/etc/influxdb", folder, `":8086"`, `"`+address+`"`, "127.0.0.1:8088", freeAddress(t)).
		Replace(read(t, "influxdb/influxdb.conf"))
	conf := filepath.Join(folder, "influxdb.conf")
	if err := os.WriteFile(conf, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	var said bytes.Buffer
	c := exec.CommandContext(t.Context(), influxd, "-config", conf)
	c.Stderr = &said
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = c.Wait() }) // the test's context has ended it
	pool := x509.NewCertPool()
	pool.AppendCertsFromPEM([]byte(read(t, filepath.Join(folder, "recoat-ca.pem"))))
	s := timeSeries{"https://" + address, &http.Client{Timeout: 10 * time.Second, Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: pool, MinVersion: tls.VersionTLS12}}}}
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		if r, err := s.client.Get(s.url + "/ping"); err == nil {
			_ = r.Body.Close()
			return s
		}
	}
	t.Fatalf("influxd does not take the shipped configuration:\n%s", said.String())
	return s
}

// ask sends a statement and returns the status with the answer.
func (s timeSeries) ask(t *testing.T, user, statement string) (int, string) {
	t.Helper()
	return s.send(t, user, "/query?q="+url.QueryEscape(statement), "")
}

func (s timeSeries) send(t *testing.T, user, path, body string) (int, string) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, s.url+path, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	if user != "" {
		r.SetBasicAuth(user, strings.ToUpper(user)+"-PASSWORD")
	}
	answer, err := s.client.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err != nil {
		t.Fatal(err)
	}
	return answer.StatusCode, string(text)
}

// The shipped statements make the users, and each may do what it is for.
func TestTheTimeSeriesServerTakesItsShippedFiles(t *testing.T) {
	s := startTimeSeries(t)
	for i, statement := range settings(read(t, "influxdb/access.iql")) {
		user := "owner"
		if i == 0 {
			user = "" // the first statement makes the first user
		}
		if status, said := s.ask(t, user, statement); status != http.StatusOK || strings.Contains(said, "error") {
			t.Fatalf("%s: %d %s", statement, status, said)
		}
	}
	if status, said := s.ask(t, "owner", `CREATE DATABASE "else"`); status != http.StatusOK {
		t.Fatalf("%d %s", status, said)
	}
	line := fmt.Sprintf("round,room=loft data=\"1\" %d", time.Now().UnixNano())
	for _, c := range []struct {
		user, path, body string
		want             int
	}{
		{"", "/write?db=recoat&rp=readings", line, http.StatusUnauthorized},
		{"stranger", "/write?db=recoat&rp=readings", line, http.StatusUnauthorized},
		{"reader", "/write?db=recoat&rp=readings", line, http.StatusForbidden},
		{"recoat", "/write?db=else", line, http.StatusForbidden},
		{"recoat", "/write?db=recoat&rp=readings", line, http.StatusNoContent},
		{"recoat", "/write?db=recoat&rp=rollups", line, http.StatusNoContent},
		{"", "/query?db=recoat&q=" + url.QueryEscape(`SELECT * FROM readings.round`), "", http.StatusUnauthorized},
		{"reader", "/query?db=recoat&q=" + url.QueryEscape(`SELECT * FROM readings.round`), "", http.StatusOK},
		{"recoat", "/query?q=" + url.QueryEscape(`CREATE DATABASE "mine"`), "", http.StatusForbidden},
	} {
		if status, said := s.send(t, c.user, c.path, c.body); status != c.want {
			t.Errorf("%q at %s: %d %s, want %d", c.user, c.path, status, said, c.want)
		}
	}
	if _, said := s.ask(t, "owner", `SHOW RETENTION POLICIES ON "recoat"`); !strings.Contains(said, `["readings","9600h0m0s"`) || !strings.Contains(said, `["rollups","0s"`) {
		t.Errorf("kept for: %s", said)
	}
	plain := &http.Client{Timeout: 5 * time.Second}
	if r, err := plain.Get(strings.Replace(s.url, "https:", "http:", 1) + "/ping"); err == nil {
		_ = r.Body.Close()
		if r.StatusCode < 400 {
			t.Errorf("it speaks without encryption: %s", r.Status)
		}
	}
}
