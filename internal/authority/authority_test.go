package authority

import (
	"bytes"
	"crypto/tls"
	"crypto/x509"
	"io"
	"log"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"
	"time"
)

type clock struct{ at time.Time }

func (c *clock) now() time.Time { return c.at }

func open(t *testing.T, folder string) (*Authority, *clock) {
	t.Helper()
	c := &clock{time.Now()}
	a, err := Open(folder, c.now)
	if err != nil {
		t.Fatal(err)
	}
	return a, c
}

// A client that trusts the authority reads a page from a server that it signed,
// and one that does not is refused; so is a name that the certificate is not for.
func TestOnlyWhoTrustsItIsServed(t *testing.T) {
	a, _ := open(t, t.TempDir())
	// The test server's own TLS would put its own certificate first.
	server := httptest.NewUnstartedServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { _, _ = w.Write([]byte("fit")) }))
	server.Listener = tls.NewListener(server.Listener, a.Server(func() []string { return []string{"localhost", "127.0.0.1"} }))
	server.Config.ErrorLog = log.New(io.Discard, "", 0)
	server.Start()
	defer server.Close()
	url := "https://" + server.Listener.Addr().String()
	get := func(c *tls.Config) (string, error) {
		client := http.Client{Transport: &http.Transport{TLSClientConfig: c}}
		defer client.CloseIdleConnections()
		r, err := client.Get(url)
		if err != nil {
			return "", err
		}
		defer func() { _ = r.Body.Close() }()
		text, err := io.ReadAll(r.Body)
		return string(text), err
	}
	if text, err := get(a.Trust()); err != nil || text != "fit" {
		t.Errorf("%q, %v", text, err)
	}
	if _, err := get(nil); err == nil {
		t.Error("a client that knows nothing of the authority was served")
	}
	stranger, _ := open(t, t.TempDir())
	if _, err := get(stranger.Trust()); err == nil {
		t.Error("a client of another authority was served")
	}
	wrong := a.Trust()
	wrong.ServerName = "elsewhere.example"
	if _, err := get(wrong); err == nil {
		t.Error("a name that the certificate is not for was served")
	}
}

// It is the same authority after a restart, and only its owner may read its key.
func TestItIsKept(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "tls")
	first, _ := open(t, folder)
	second, _ := open(t, folder)
	if !bytes.Equal(first.Certificate(), second.Certificate()) || first.Fingerprint() != second.Fingerprint() {
		t.Error("another authority after a restart")
	}
	info, err := os.Stat(filepath.Join(folder, keyFile))
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the key's mode is %v, %v", info.Mode(), err)
	}
	if err := os.Remove(filepath.Join(folder, keyFile)); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(folder, time.Now); err == nil {
		t.Error("an authority without its key was opened")
	}
}

// A certificate is kept until two months before its end, and made anew where the
// machine's addresses change.
func TestCertificatesAreRenewed(t *testing.T) {
	a, c := open(t, t.TempDir())
	names := []string{"localhost"}
	serve := a.Server(func() []string { return append([]string(nil), names...) })
	now := func() *x509.Certificate {
		cert, err := serve.GetCertificate(nil)
		if err != nil {
			t.Fatal(err)
		}
		return cert.Leaf
	}
	first := now()
	if again := now(); !again.Equal(first) {
		t.Error("made anew at once")
	}
	names = append(names, "192.0.2.7")
	second := now()
	if second.Equal(first) || len(second.IPAddresses) != 1 {
		t.Error("not made anew for another address")
	}
	c.at = second.NotAfter.Add(-renewBefore - time.Hour)
	if !now().Equal(second) {
		t.Error("renewed too early")
	}
	c.at = second.NotAfter.Add(-renewBefore)
	if third := now(); third.Equal(second) || !third.NotAfter.After(c.at.Add(300*24*time.Hour)) {
		t.Error("not renewed in time")
	}
}

// The clock of a machine that has just booted without a battery is years
// behind: its certificates are good all the same once it is right.
func TestAClockThatIsBehind(t *testing.T) {
	c := &clock{time.Unix(0, 0)}
	a, err := Open(t.TempDir(), c.now)
	if err != nil {
		t.Fatal(err)
	}
	cert, err := a.certificate([]string{"localhost"})
	if err != nil {
		t.Fatal(err)
	}
	if cert.Leaf.NotBefore.Before(dawn()) || !cert.Leaf.NotAfter.After(dawn().Add(300*24*time.Hour)) {
		t.Errorf("good from %s to %s", cert.Leaf.NotBefore, cert.Leaf.NotAfter)
	}
	if !a.cert.NotAfter.After(dawn().Add(20 * 365 * 24 * time.Hour)) {
		t.Errorf("the authority ends on %s", a.cert.NotAfter)
	}
	c.at = time.Now() // more than its life later: made anew
	later, err := a.certificate([]string{"localhost"})
	if err != nil {
		t.Fatal(err)
	}
	if c.at.Before(later.Leaf.NotBefore) || c.at.After(later.Leaf.NotAfter) {
		t.Errorf("now it is good from %s to %s", later.Leaf.NotBefore, later.Leaf.NotAfter)
	}
}
