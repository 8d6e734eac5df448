package mail

import (
	"encoding/base64"
	"io"
	"mime/quotedprintable"
	"net/mail"
	"strings"
	"testing"
)

// textOf undoes the transfer encoding and the line ends of the wire.
func textOf(t *testing.T, m *mail.Message) string {
	t.Helper()
	body := m.Body
	switch m.Header.Get("Content-Transfer-Encoding") {
	case "quoted-printable":
		body = quotedprintable.NewReader(body)
	case "base64":
		body = base64.NewDecoder(base64.StdEncoding, body)
	}
	text, err := io.ReadAll(body)
	if err != nil {
		t.Fatal(err)
	}
	return strings.TrimRight(strings.ReplaceAll(string(text), "\r\n", "\n"), "\n") + "\n"
}
