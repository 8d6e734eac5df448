package webpush

import (
	"crypto/ecdh"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"net/netip"
	"net/url"
	"strings"

	"recoat/internal/alert"
)

const (
	authSize        = 16
	maxSubscription = 4096 // bytes
	maxEndpoint     = 1024 // bytes
)

// ParseSubscription reads what a browser's PushSubscription gives as JSON. The
// address comes from outside, so it is held to https and a public name.
func ParseSubscription(body []byte) (alert.PushSubscription, error) {
	var none alert.PushSubscription
	if len(body) > maxSubscription {
		return none, fmt.Errorf("subscription: %d bytes are too many, want at most %d", len(body), maxSubscription)
	}
	var given struct {
		Endpoint string `json:"endpoint"`
		Keys     struct {
			P256dh string `json:"p256dh"`
			Auth   string `json:"auth"`
		} `json:"keys"`
	}
	if err := json.Unmarshal(body, &given); err != nil {
		return none, fmt.Errorf("subscription: %w", err)
	}
	if err := checkEndpoint(given.Endpoint); err != nil {
		return none, fmt.Errorf("subscription: %w", err)
	}
	key, err := decode(given.Keys.P256dh)
	if err != nil {
		return none, errors.New("subscription: keys.p256dh is not base64url")
	}
	if _, err := ecdh.P256().NewPublicKey(key); err != nil {
		return none, errors.New("subscription: keys.p256dh is no point of P-256")
	}
	auth, err := decode(given.Keys.Auth)
	if err != nil || len(auth) != authSize {
		return none, fmt.Errorf("subscription: keys.auth is not %d bytes in base64url", authSize)
	}
	return alert.PushSubscription{Endpoint: given.Endpoint, Key: key, Auth: auth}, nil
}

// checkEndpoint never repeats the address: it is the right to send.
func checkEndpoint(endpoint string) error {
	u, err := url.Parse(endpoint)
	switch {
	case len(endpoint) > maxEndpoint:
		return fmt.Errorf("the endpoint is longer than %d bytes", maxEndpoint)
	case err != nil || u.Scheme != "https" || u.Hostname() == "" || u.User != nil || u.Fragment != "":
		return errors.New("the endpoint is not a plain https address")
	}
	if _, err := netip.ParseAddr(u.Hostname()); err == nil || !strings.Contains(u.Hostname(), ".") {
		return errors.New("the endpoint names no public host")
	}
	return nil
}

// decode takes base64url with and without padding.
func decode(s string) ([]byte, error) {
	return base64.RawURLEncoding.DecodeString(strings.TrimRight(s, "="))
}
