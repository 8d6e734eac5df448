// Package mail sends messages by SMTP, always under TLS.
package mail

import (
	"cmp"
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"strconv"
	"time"

	gomail "github.com/wneessen/go-mail"

	"recoat/internal/alert"
)

const (
	submission = 587              // RFC 6409
	oneSend    = 15 * time.Second // below the courier's deadline
)

// Config is how to reach a mail server that takes submissions.
type Config struct {
	Host     string
	Port     uint16 // 0: 587
	User     string // empty: no login
	Password string
	From     string
	To       []string
	Roots    *x509.CertPool // nil: the system's
}

// Channel sends each message as a mail of its own. The connection is encrypted
// with STARTTLS and the server's certificate is checked, before the login.
type Channel struct {
	cfg     Config
	options []gomail.Option
}

// New checks the addresses.
func New(cfg Config) (*Channel, error) {
	switch {
	case cfg.Host == "":
		return nil, errors.New("mail: no server is named")
	case len(cfg.To) == 0:
		return nil, errors.New("mail: no receiver is named")
	case cfg.User != "" && cfg.Password == "":
		return nil, fmt.Errorf("mail: the user of %s has no password", cfg.Host)
	}
	c := &Channel{cfg: cfg, options: []gomail.Option{
		gomail.WithPort(int(cmp.Or(cfg.Port, submission))),
		gomail.WithTimeout(oneSend),
		gomail.WithTLSPolicy(gomail.TLSMandatory),
		gomail.WithTLSConfig(&tls.Config{ServerName: cfg.Host, RootCAs: cfg.Roots, MinVersion: tls.VersionTLS12}),
		gomail.WithHELO("recoat"),
	}}
	if cfg.User != "" {
		c.options = append(c.options, gomail.WithSMTPAuth(gomail.SMTPAuthAutoDiscover),
			gomail.WithUsername(cfg.User), gomail.WithPassword(cfg.Password))
	}
	if _, err := c.letter(alert.Message{}); err != nil {
		return nil, fmt.Errorf("mail: %w", err)
	}
	if _, err := gomail.NewClient(cfg.Host, c.options...); err != nil {
		return nil, fmt.Errorf("mail: %w", err)
	}
	return c, nil
}

// Name is "mail".
func (*Channel) Name() string { return "mail" }

// Send hands m to the server once.
func (c *Channel) Send(ctx context.Context, m alert.Message) error {
	letter, err := c.letter(m)
	if err != nil {
		return fmt.Errorf("mail: %w", err)
	}
	err = c.send(ctx, letter)
	switch {
	case err == nil:
		return nil
	case ctx.Err() != nil:
		return alert.ErrOutcomeUnknown
	}
	return errors.New("mail: " + alert.Redact(err.Error(), c.cfg.User, c.cfg.Password))
}

func (c *Channel) letter(m alert.Message) (*gomail.Msg, error) {
	letter := gomail.NewMsg()
	if err := letter.From(c.cfg.From); err != nil {
		return nil, fmt.Errorf("the sender %q: %w", c.cfg.From, err)
	}
	if err := letter.To(c.cfg.To...); err != nil {
		return nil, fmt.Errorf("the receivers: %w", err)
	}
	letter.Subject(m.Title)
	letter.SetMessageIDWithValue(m.ID + "@recoat.invalid") // the same in every try
	letter.SetDate()
	if m.Severity == alert.Critical {
		letter.SetImportance(gomail.ImportanceHigh)
	}
	// RFC 3834: no reply of a machine is wanted.
	letter.SetGenHeader("Auto-Submitted", "auto-generated")
	letter.SetBodyString(gomail.TypeTextPlain, m.Title+"\n\n"+m.Text()+"\n")
	return letter, nil
}

// send dials by itself, since the library leaves a connection open where the
// greeting fails, and does not end it with ctx.
func (c *Channel) send(ctx context.Context, letter *gomail.Msg) error {
	dial := func(dialling context.Context, network, address string) (net.Conn, error) {
		conn, err := new(net.Dialer).DialContext(dialling, network, address)
		if err == nil {
			context.AfterFunc(ctx, func() { _ = conn.Close() })
		}
		return conn, err
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	client, err := gomail.NewClient(c.cfg.Host, append(c.options[:len(c.options):len(c.options)], gomail.WithDialContextFunc(dial))...)
	if err != nil {
		return err
	}
	session, err := client.DialToSMTPClientWithContext(ctx)
	if err != nil {
		return err
	}
	if err := client.SendWithSMTPClient(session, letter); err != nil {
		return err
	}
	// The server has it: a farewell that fails makes no difference.
	_ = client.CloseWithSMTPClient(session)
	return nil
}

// Server names where the mails go, for people.
func (c *Channel) Server() string {
	return net.JoinHostPort(c.cfg.Host, strconv.Itoa(int(cmp.Or(c.cfg.Port, submission))))
}
