package alert

import (
	"cmp"
	"net/url"
	"regexp"
	"slices"
	"strings"
)

const (
	hidden        = "…"
	maxErrorText  = 300 // characters
	shortestGuard = 3   // shorter parts of an address are no secrets
)

// redactor takes the parts of one channel's address out of what others say, and
// any other address with them.
type redactor struct {
	parts     []string // longest first
	addresses *regexp.Regexp
}

// Redact takes secrets and every address out of what others say, so that it can
// be logged and shown, and puts it on one line that is not too long.
func Redact(text string, secrets ...string) string {
	return redactorOf(secrets, nil).text(text)
}

// newRedactor guards every part of u that may be a secret; keep names parts,
// such as a host, that may be shown.
func newRedactor(u *url.URL, keep ...string) redactor {
	password, _ := u.User.Password()
	raw := []string{u.User.Username(), password, u.Host, u.Hostname(), u.Opaque, u.Fragment, u.RawQuery, u.EscapedPath()}
	raw = append(raw, strings.Split(u.EscapedPath(), "/")...)
	raw = append(raw, strings.FieldsFunc(u.Opaque, func(r rune) bool { return strings.ContainsRune("/@:", r) })...)
	for _, values := range u.Query() {
		for _, v := range values {
			raw = append(raw, v)
			raw = append(raw, strings.Split(v, ",")...)
		}
	}
	return redactorOf(raw, keep)
}

// redactorOf guards each of raw, as it stands and as addresses write it.
func redactorOf(raw, keep []string) redactor {
	var parts []string
	for _, p := range raw {
		plain, err := url.PathUnescape(p)
		if err != nil {
			plain = p
		}
		for _, form := range []string{p, plain, url.QueryEscape(plain), url.PathEscape(plain)} {
			if len(form) >= shortestGuard && !slices.Contains(keep, form) {
				parts = append(parts, form)
			}
		}
	}
	slices.SortFunc(parts, func(a, b string) int { return cmp.Or(len(b)-len(a), strings.Compare(a, b)) })
	return redactor{
		parts:     slices.Compact(parts),
		addresses: regexp.MustCompile(`[A-Za-z][A-Za-z0-9+.-]*://[^\s"']+`),
	}
}

// text returns s without any part of the address, on one line and not too long.
func (r redactor) text(s string) string {
	s = r.addresses.ReplaceAllString(s, hidden)
	for _, p := range r.parts {
		s = strings.ReplaceAll(s, p, hidden)
	}
	return clip(oneLine(s), maxErrorText)
}
