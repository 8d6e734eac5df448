package main

import (
	"bytes"
	"crypto/tls"
	"crypto/x509"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

// listening returns where a process listens, as Linux tells.
func listening(t *testing.T, pid int) []net.TCPAddr {
	t.Helper()
	proc := fmt.Sprintf("/proc/%d", pid)
	fds, err := filepath.Glob(proc + "/fd/*")
	if err != nil || len(fds) == 0 {
		t.Skipf("this system does not say what a process listens on: %v", err)
	}
	own := map[string]bool{}
	for _, fd := range fds {
		if to, err := os.Readlink(fd); err == nil && strings.HasPrefix(to, "socket:[") {
			own[strings.Trim(to, "socket:[]")] = true
		}
	}
	var all []net.TCPAddr
	for _, file := range []string{"tcp", "tcp6", "udp", "udp6"} {
		text, err := os.ReadFile(filepath.Join(proc, "net", file))
		if err != nil {
			continue // no such protocol here
		}
		for _, line := range strings.Split(string(text), "\n")[1:] {
			f := strings.Fields(line)
			const listens, unconnected = "0A", "07" // of tcp; what udp shows for open to all
			if len(f) > 9 && own[f[9]] && (f[3] == listens || strings.HasPrefix(file, "udp") && f[3] == unconnected) {
				all = append(all, socketAddress(t, f[1]))
			}
		}
	}
	return all
}

// socketAddress reads an address as /proc/net writes it: words of 32 bits, each
// with its lowest byte first.
func socketAddress(t *testing.T, s string) net.TCPAddr {
	t.Helper()
	host, port, _ := strings.Cut(s, ":")
	raw, err := hex.DecodeString(host)
	number, err2 := hex.DecodeString(port)
	if err != nil || err2 != nil {
		t.Fatalf("socket %q", s)
	}
	for i := 0; i+4 <= len(raw); i += 4 {
		raw[i], raw[i+1], raw[i+2], raw[i+3] = raw[i+3], raw[i+2], raw[i+1], raw[i]
	}
	return net.TCPAddr{IP: raw, Port: int(number[0])<<8 | int(number[1])}
}

func TestNothingListensBeyondLoopbackByDefault(t *testing.T) {
	t.Parallel()
	cfg := write(t, "c.toml", fmt.Sprintf("[pages]\nlisten = \"127.0.0.1:0\"\n[data]\nfolder = %q\n", t.TempDir()))
	r := running(t, "up", "--simulate", "--config", cfg)
	r.find(t, `Tonight: (http://127\.0\.0\.1:\d+)/`)
	sockets := listening(t, r.pid)
	if len(sockets) < 2 { // the pages and the broker
		t.Fatalf("it listens on %v", sockets)
	}
	for _, s := range sockets {
		if !s.IP.IsLoopback() {
			t.Errorf("%v can be reached from outside", s)
		}
	}
}

// browser keeps cookies and trusts one authority. It sends what a browser sends.
type browser struct {
	http.Client
	at string
}

func newBrowser(t *testing.T, at, authority string) *browser {
	t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	b := &browser{at: at}
	b.Jar = jar
	b.Transport = &http.Transport{TLSClientConfig: trusting(t, authority)}
	t.Cleanup(b.CloseIdleConnections)
	return b
}

func trusting(t *testing.T, file string) *tls.Config {
	t.Helper()
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	pool := x509.NewCertPool()
	if !pool.AppendCertsFromPEM(text) {
		t.Fatal("no certificate in " + file)
	}
	return &tls.Config{RootCAs: pool}
}

// ask returns the status, where it ended and what stands there.
func (b *browser) ask(t *testing.T, method, path string, form url.Values) (status int, ended, text string) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), method, b.at+path, strings.NewReader(form.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Accept", "text/html")
	if form != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Origin", b.at)
	}
	answer, err := b.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = answer.Body.Close() }()
	body, err := io.ReadAll(io.LimitReader(answer.Body, 1<<20))
	if err != nil {
		t.Fatal(err)
	}
	return answer.StatusCode, answer.Request.URL.Path, string(body)
}

// A shop on its own network, from first start to a wall display: nobody gets
// more than the log-in page and a refusal before they have logged in.
func TestAShopIsClaimedAndShared(t *testing.T) {
	t.Parallel()
	data := t.TempDir()
	cfg := write(t, "c.toml", fmt.Sprintf("[pages]\nlisten = \"0.0.0.0:0\"\n[broker]\nlisten = \"0.0.0.0:0\"\n[data]\nfolder = %q\n", data))
	r := running(t, "up", "--simulate", "--config", cfg)
	at := r.find(t, `Tonight: (https://[0-9.]+:\d+)/`)
	nodes := r.find(t, `Nodes elsewhere: (ssl://[0-9.]+:\d+),`)
	code := r.find(t, `good once, for an hour: (\S+)$`)
	trusted := filepath.Join(data, "tls", "authority.crt")

	stranger := newBrowser(t, at, trusted)
	for _, path := range []string{"/", "/room/back-room", "/shelf", "/account", "/nowhere", "/api/rooms", "/healthz", "/events"} {
		if status, ended, text := stranger.ask(t, "GET", path, nil); ended != "/login" || status != http.StatusOK || strings.Contains(text, "simulated") {
			t.Errorf("a stranger asks for %s: %d at %s", path, status, ended)
		}
	}
	for _, path := range []string{"/coats", "/people", "/products", "/alerts/x/seen", "/nowhere"} {
		if status, _, text := stranger.ask(t, "POST", path, url.Values{"name": {"x"}}); status != http.StatusUnauthorized || strings.TrimSpace(text) != "Log in first." {
			t.Errorf("a stranger sends to %s: %d %q", path, status, text)
		}
	}
	const password = "ash and walnut"
	if status, _, _ := stranger.ask(t, "POST", "/claim", url.Values{"code": {"wrong"}, "name": {"eve"}, "password": {password}}); status != http.StatusForbidden {
		t.Errorf("claimed with a wrong code: %d", status)
	}

	owner := newBrowser(t, at, trusted)
	if status, ended, _ := owner.ask(t, "POST", "/claim", url.Values{"code": {code}, "name": {"Mona"}, "password": {password}, "next": {"https://evil.example/"}}); status != http.StatusOK || ended != "/" {
		t.Fatalf("the owner's claim: %d at %s", status, ended)
	}
	for name, role := range map[string]string{"ida": "helper", "screen": "wall"} {
		if status, ended, text := owner.ask(t, "POST", "/people", url.Values{"name": {name}, "role": {role}, "password": {password}}); status != http.StatusOK || ended != "/account" || !strings.Contains(text, name) {
			t.Errorf("let %s in: %d at %s", name, status, ended)
		}
	}
	for name, want := range map[string]map[string]int{
		"mona":   {"GET /": 200, "GET /account": 200, "GET /shelf": 200},
		"ida":    {"GET /": 200, "GET /shelf": 200, "POST /people": 403, "POST /nowhere": 403},
		"screen": {"GET /": 200, "GET /room/back-room": 200, "GET /shelf": 403, "POST /coats": 403, "POST /people": 403},
	} {
		b := newBrowser(t, at, trusted)
		if status, ended, _ := b.ask(t, "POST", "/login", url.Values{"name": {name}, "password": {password}, "next": {"/account"}}); status != http.StatusOK || ended != "/account" {
			t.Errorf("%s logs in: %d at %s", name, status, ended)
		}
		for request, status := range want {
			method, path, _ := strings.Cut(request, " ")
			var form url.Values
			if method == "POST" {
				form = url.Values{"name": {"x"}}
			}
			if got, _, _ := b.ask(t, method, path, form); got != status {
				t.Errorf("%s: %s gives %d, want %d", name, request, got, status)
			}
		}
		if _, ended, _ := b.ask(t, "POST", "/logout", url.Values{}); ended != "/login" {
			t.Errorf("%s logs out to %s", name, ended)
		}
		if _, ended, _ := b.ask(t, "GET", "/", nil); ended != "/login" {
			t.Errorf("%s is still there", name)
		}
	}
	aNodeElsewhereIsHeard(t, cfg, nodes, trusted)
}

// The password that the shell gives lets a node publish to the running broker.
func aNodeElsewhereIsHeard(t *testing.T, cfg, at, trusted string) {
	t.Helper()
	var out, errs bytes.Buffer
	if code := run(t.Context(), []string{"node", "add", "loft", "shelf", "--config", cfg, "--json"}, &out, &errs); code != 0 {
		t.Fatal(errs.String())
	}
	var report nodeReport
	if err := json.Unmarshal(out.Bytes(), &report); err != nil {
		t.Fatal(err)
	}
	o := mqtt.NewClientOptions().AddBroker(at).SetClientID("shelf").SetUsername(report.User).SetPassword(report.Password).
		SetTLSConfig(trusting(t, trusted)).SetAutoReconnect(false).SetConnectTimeout(10 * time.Second)
	c := mqtt.NewClient(o)
	if token := c.Connect(); !token.WaitTimeout(10*time.Second) || token.Error() != nil {
		t.Fatalf("the node is not let in: %v", token.Error())
	}
	defer c.Disconnect(0)
	pack := `[{"bn":"recoat","bt":1772400600,"n":"x","v":1}]` // what it says does not matter here
	if token := c.Publish("recoat/1/loft/shelf/readings", 1, false, pack); !token.WaitTimeout(10*time.Second) || token.Error() != nil {
		t.Errorf("the node is not heard: %v", token.Error())
	}
	if token := c.Publish("recoat/1/back-room/bench/readings", 1, false, pack); token.WaitTimeout(2*time.Second) && token.Error() == nil && c.IsConnectionOpen() {
		t.Error("the node may speak for another")
	}
}
