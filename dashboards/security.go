package dashboards

import (
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strings"
)

// policy lets a page load nothing but what this server gives it, run no inline
// script and use no inline style, and stand in no frame.
const policy = "default-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; object-src 'none'"

// secure sets the headers every answer carries, refuses hosts that are not
// ours, and refuses changes asked for by a page from elsewhere.
func secure(next http.Handler, hosts []string) http.Handler {
	var crossOrigin http.CrossOriginProtection
	next = crossOrigin.Handler(next)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		if !ours(r.Host, hosts) {
			http.Error(w, "This name is not known here. Use the address of the machine, or add the name to the list of hosts.", http.StatusMisdirectedRequest)
			return
		}
		next.ServeHTTP(w, r)
	})
}

// inNoHost reports a character that no host, address or port is written with.
func inNoHost(r rune) bool {
	letter, digit := 'a' <= r && r <= 'z' || 'A' <= r && r <= 'Z', '0' <= r && r <= '9'
	return !letter && !digit && !strings.ContainsRune("-._:[]%", r)
}

// ours reports whether a Host header can be meant for this server. A foreign
// site that points its name at us (DNS rebinding) always sends a name, so that
// bare addresses are safe and names must be listed.
func ours(hostport string, hosts []string) bool {
	host := hostport
	if strings.ContainsFunc(host, inNoHost) {
		return false
	}
	if h, port, err := net.SplitHostPort(hostport); err == nil && strings.Trim(port, "0123456789") == "" {
		host = h
	}
	if strings.HasPrefix(host, "[") && strings.HasSuffix(host, "]") {
		host = host[1 : len(host)-1]
	}
	if _, err := netip.ParseAddr(host); err == nil {
		return true
	}
	host = strings.ToLower(strings.TrimSuffix(host, "."))
	return host == "localhost" || slices.ContainsFunc(hosts, func(h string) bool {
		return strings.EqualFold(h, host)
	})
}
