package main

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"os"
	"strings"
)

// trust says whose certificates the broker may show; nil is any authority that
// the system trusts.
func (b brokerConfig) trust() (*tls.Config, error) {
	if b.CAFile == "" {
		return nil, nil
	}
	if strings.HasPrefix(b.URL, "tcp:") || strings.HasPrefix(b.URL, "mqtt:") {
		return nil, errors.New("broker.ca_file: the address in broker.url is not encrypted: write it as ssl://host:8883")
	}
	text, err := os.ReadFile(b.CAFile)
	if err != nil {
		return nil, fmt.Errorf("broker.ca_file: %w", err)
	}
	pool := x509.NewCertPool()
	if !pool.AppendCertsFromPEM(text) {
		return nil, fmt.Errorf("broker.ca_file: %s holds no certificate in PEM: name the authority's recoat-ca.pem", b.CAFile)
	}
	return &tls.Config{RootCAs: pool, MinVersion: tls.VersionTLS12}, nil
}
