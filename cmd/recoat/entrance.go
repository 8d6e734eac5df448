package main

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"path/filepath"
	"time"

	"recoat/internal/access"
	"recoat/internal/authority"
	"recoat/internal/telemetry"
)

// entrance is what stands before the pages and the broker where others can
// reach them: a log-in, passwords of nodes, and TLS. The zero entrance lets in
// whoever is on this machine.
type entrance struct {
	book   *access.Book
	own    *authority.Authority // nil where the shop has a certificate of its own
	secure *tls.Config
}

// accounts and authorities are where the data folder keeps them. Both are the
// machine's, whether its room is simulated or not.
func (d dataConfig) accounts() string    { return folder(d.Folder).accounts() }
func (d dataConfig) authorities() string { return filepath.Join(d.Folder, "tls") }

// guarded reports whether who comes to the pages has to log in.
func (p pagesConfig) guarded() bool { return p.Login || !onLoopback(p.Listen) }

func onLoopback(address string) bool {
	host, _, err := net.SplitHostPort(address)
	ip := net.ParseIP(host)
	return err == nil && (host == "localhost" || ip != nil && ip.IsLoopback())
}

// openEntrance opens what the configuration asks for.
func (h *house) openEntrance(ctx context.Context) (err error) {
	if !h.cfg.Pages.guarded() && h.cfg.Broker.Listen == "" {
		return nil
	}
	if h.door.book, err = access.Open(ctx, access.Options{Path: h.cfg.Data.accounts()}); err != nil {
		return err
	}
	h.parts.onClose(h.door.book.Close)
	if h.cfg.Pages.Certificate != "" {
		pair, err := tls.LoadX509KeyPair(h.cfg.Pages.Certificate, h.cfg.Pages.Key)
		if err != nil {
			return fmt.Errorf("pages.certificate: %w", err)
		}
		h.door.secure = &tls.Config{Certificates: []tls.Certificate{pair}, MinVersion: tls.VersionTLS12}
		return nil
	}
	if onLoopback(h.cfg.Pages.Listen) && h.cfg.Broker.Listen == "" {
		return nil // behind a server of the shop's own, which has the certificate
	}
	if h.door.own, err = authority.Open(h.cfg.Data.authorities(), time.Now); err != nil {
		return err
	}
	h.door.secure = h.door.own.Server(func() []string { return authority.Own(h.cfg.Pages.Hosts...) })
	return nil
}

// overTLS reports whether the pages themselves speak TLS.
func (h *house) overTLS() bool { return h.door.secure != nil && !onLoopback(h.cfg.Pages.Listen) }

// nodes are those whom the broker lets in from elsewhere.
func (e entrance) nodes(ctx context.Context) telemetry.Nodes {
	if e.book == nil {
		return telemetry.Nodes{}
	}
	return telemetry.Nodes{
		Admits: func(room, node string, password []byte) bool { return e.book.AdmitsNode(ctx, room, node, password) },
		Knows:  func(room, node string) bool { return e.book.KnowsNode(ctx, room, node) },
	}
}

// invite says on the terminal how the first owner gets in, and what phones and
// nodes are to trust.
func (h *house) invite(s *session) error {
	if h.door.own != nil {
		fmt.Fprintf(s.stdout, "This shop's certificate, for phones to trust: %s\n  its SHA-256 fingerprint: %s\n", filepath.Join(h.cfg.Data.authorities(), "authority.crt"), h.door.own.Fingerprint())
	}
	if h.outside != nil {
		fmt.Fprintf(s.stdout, "Nodes elsewhere: ssl://%s, each by its own password: recoat node add\n", reachable(h.outside))
	}
	if !h.cfg.Pages.guarded() {
		return nil
	}
	claimed, err := h.door.book.Claimed(s.ctx)
	if err == nil && !claimed {
		fmt.Fprintf(s.stdout, "Nobody owns this shop yet. Open the page and enter this code; it is good once, for an hour: %s\n", h.door.book.ClaimCode())
	}
	return err
}

func checkAddress(key, address string) error {
	if _, _, err := net.SplitHostPort(address); err != nil {
		return fmt.Errorf("%s %q: an address and port such as 127.0.0.1:7423", key, address)
	}
	return nil
}

// check finds what is wrong with the pages' settings.
func (p pagesConfig) check() error {
	if p.Clock != "24h" && p.Clock != "12h" {
		return fmt.Errorf("pages.clock %q: \"24h\" or \"12h\"", p.Clock)
	}
	if err := checkAddress("pages.listen", p.Listen); err != nil {
		return err
	}
	if (p.Certificate == "") != (p.Key == "") {
		return errors.New("pages.certificate and pages.key go together: name both, or neither for the shop's own")
	}
	return nil
}

// reachable is an address by which phones find what listens on all of this
// machine's.
func reachable(addr net.Addr) string {
	tcp, ok := addr.(*net.TCPAddr)
	if !ok || !tcp.IP.IsUnspecified() {
		return addr.String()
	}
	addresses, _ := net.InterfaceAddrs() // without them it is taken for offline
	return net.JoinHostPort(outward(addresses).String(), fmt.Sprint(tcp.Port))
}

// outward is the first address by which others reach this machine; offline only
// its own is left.
func outward(addresses []net.Addr) net.IP {
	for _, a := range addresses {
		if n, ok := a.(*net.IPNet); ok && n.IP.To4() != nil && !n.IP.IsLoopback() {
			return n.IP
		}
	}
	return net.IPv4(127, 0, 0, 1)
}
