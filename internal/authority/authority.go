// Package authority is a private certificate authority for one shop: made at
// the first run, kept in a folder that only its owner may read, and good for
// the names and addresses of the shop's own machines alone.
package authority

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"
)

// Certificates begin on this day: a Pi without a battery boots with a clock
// that is behind, and must still be believed.
func dawn() time.Time { return time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC) }

// How long certificates are good. Phones refuse a server's beyond 825 days; it
// is made anew in good time, the authority's never.
const (
	authorityLife = 25 * 365 * 24 * time.Hour
	serverLife    = 397 * 24 * time.Hour
	renewBefore   = 60 * 24 * time.Hour
)

// Authority signs certificates for this shop's servers.
type Authority struct {
	cert *x509.Certificate
	key  *ecdsa.PrivateKey
	now  func() time.Time

	mu      sync.Mutex
	current map[string]*tls.Certificate // by the names it is for
}

const (
	certFile = "authority.crt"
	keyFile  = "authority.key"
)

// Open reads the authority in folder, or makes one where there is none.
func Open(folder string, now func() time.Time) (*Authority, error) {
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return nil, fmt.Errorf("the folder of the authority: %w", err)
	}
	a := &Authority{now: now, current: map[string]*tls.Certificate{}}
	certPath, keyPath := filepath.Join(folder, certFile), filepath.Join(folder, keyFile)
	_, err := os.Stat(certPath)
	switch {
	case errors.Is(err, os.ErrNotExist):
		err = a.create(certPath, keyPath)
	case err == nil:
		err = a.read(certPath, keyPath)
	}
	if err != nil {
		return nil, fmt.Errorf("the authority in %s: %w", folder, err)
	}
	return a, nil
}

func (a *Authority) create(certPath, keyPath string) error {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return err
	}
	serial, err := serial()
	if err != nil {
		return err
	}
	template := &x509.Certificate{
		SerialNumber: serial,
		Subject:      pkix.Name{CommonName: "recoat in this shop, " + a.now().UTC().Format(time.DateOnly)},
		NotBefore:    dawn(), NotAfter: later(dawn(), a.now()).Add(authorityLife),
		IsCA: true, BasicConstraintsValid: true, MaxPathLenZero: true,
		KeyUsage: x509.KeyUsageCertSign | x509.KeyUsageCRLSign,
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	if err != nil {
		return err
	}
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return err
	}
	// The certificate comes last: one without its key would be read as whole.
	if err := write(keyPath, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret})); err != nil {
		return err
	}
	if err := write(certPath, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})); err != nil {
		return err
	}
	return a.read(certPath, keyPath)
}

func (a *Authority) read(certPath, keyPath string) error {
	cert, err := os.ReadFile(certPath)
	if err != nil {
		return err
	}
	key, err := os.ReadFile(keyPath)
	if err != nil {
		return err
	}
	a.cert, a.key, err = parsePair(cert, key)
	return err
}

// parsePair reads a certificate and its key, both in PEM.
func parsePair(cert, key []byte) (*x509.Certificate, *ecdsa.PrivateKey, error) {
	pair, err := tls.X509KeyPair(cert, key)
	if err != nil {
		return nil, nil, err
	}
	private, ok := pair.PrivateKey.(*ecdsa.PrivateKey)
	if !ok || !pair.Leaf.IsCA {
		return nil, nil, errors.New("it is not one that recoat made: move it away, and another is made")
	}
	return pair.Leaf, private, nil
}

// write puts a file in place whole or not at all, for its owner alone.
func write(path string, text []byte) error {
	f, err := os.CreateTemp(filepath.Dir(path), ".new-*")
	if err != nil {
		return err
	}
	defer func() { _ = os.Remove(f.Name()) }() // gone already where all went well
	if _, err := f.Write(text); err != nil {
		return errors.Join(err, f.Close())
	}
	if err := errors.Join(f.Sync(), f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

func serial() (*big.Int, error) {
	return rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 127))
}

// Certificate returns the authority's own, in PEM: what phones and nodes have to
// trust. It is no secret.
func (a *Authority) Certificate() []byte {
	return pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: a.cert.Raw})
}

// Fingerprint is the SHA-256 of the authority's certificate, as phones show it.
func (a *Authority) Fingerprint() string {
	sum := sha256.Sum256(a.cert.Raw)
	pairs := make([]string, len(sum))
	for i, b := range sum {
		pairs[i] = fmt.Sprintf("%02X", b)
	}
	return strings.Join(pairs, ":")
}

// Trust is what a client needs to believe this authority's servers and no
// other's.
func (a *Authority) Trust() *tls.Config {
	pool := x509.NewCertPool()
	pool.AddCert(a.cert)
	return &tls.Config{RootCAs: pool, MinVersion: tls.VersionTLS12}
}

// Server is the configuration of a server that answers to the names and
// addresses, which are asked for anew at each certificate made, as a machine's
// addresses change. Its certificate is renewed in good time.
func (a *Authority) Server(names func() []string) *tls.Config {
	return &tls.Config{
		MinVersion: tls.VersionTLS12,
		GetCertificate: func(*tls.ClientHelloInfo) (*tls.Certificate, error) {
			return a.certificate(names())
		},
	}
}

func (a *Authority) certificate(names []string) (*tls.Certificate, error) {
	slices.Sort(names)
	id := strings.Join(slices.Compact(names), " ")
	a.mu.Lock()
	defer a.mu.Unlock()
	if c := a.current[id]; c != nil && c.Leaf.NotAfter.Sub(a.now()) > renewBefore {
		return c, nil
	}
	c, err := a.issue(strings.Fields(id))
	if err != nil {
		return nil, fmt.Errorf("make a certificate: %w", err)
	}
	a.current = map[string]*tls.Certificate{id: c} // the addresses that were are no more
	return c, nil
}

func (a *Authority) issue(names []string) (*tls.Certificate, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	serial, err := serial()
	if err != nil {
		return nil, err
	}
	now := later(dawn(), a.now())
	template := &x509.Certificate{
		SerialNumber: serial, Subject: pkix.Name{CommonName: "recoat"},
		// A day of leeway for phones whose clock is behind.
		NotBefore: later(dawn(), now.Add(-24*time.Hour)), NotAfter: now.Add(serverLife),
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
	}
	for _, name := range names {
		if ip := net.ParseIP(name); ip != nil {
			template.IPAddresses = append(template.IPAddresses, ip)
		} else {
			template.DNSNames = append(template.DNSNames, name)
		}
	}
	der, err := x509.CreateCertificate(rand.Reader, template, a.cert, &key.PublicKey, a.key)
	if err != nil {
		return nil, err
	}
	leaf, err := x509.ParseCertificate(der)
	if err != nil {
		return nil, err
	}
	return &tls.Certificate{Certificate: [][]byte{der, a.cert.Raw}, PrivateKey: key, Leaf: leaf}, nil
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// Own returns the names and addresses under which this machine can be reached:
// localhost, its host name with and without ".local", every address of its
// interfaces, and the names given.
func Own(more ...string) []string {
	names := append([]string{"localhost"}, more...)
	if host, err := os.Hostname(); err == nil && host != "" {
		names = append(names, host)
		if !strings.Contains(host, ".") {
			names = append(names, host+".local")
		}
	}
	addresses, err := net.InterfaceAddrs()
	if err != nil {
		return names // by name it can still be reached
	}
	for _, a := range addresses {
		if n, ok := a.(*net.IPNet); ok {
			names = append(names, n.IP.String())
		}
	}
	return names
}
