package alert

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"database/sql"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"
)

// Why a link is not followed. What they say is fit to be shown.
var (
	ErrLinkAltered = errors.New("this link is not one of this hub's, or was altered")
	ErrLinkExpired = errors.New("this link has expired: open the alert in Tonight instead")
	ErrLinkSpent   = errors.New("this link was used already")
)

// LinkKeySize is how many random bytes a Signer's key has.
const LinkKeySize = 32

const (
	longestToken = 1024
	longestLink  = 7 * 24 * time.Hour
	// spentSlack is how long a used link is remembered after it expired, for
	// clocks that step back.
	spentSlack = 48 * time.Hour
)

// Link is what the holder of a message may do once, without logging in.
type Link struct {
	Action  string    `json:"a"` // such as "acknowledge" or "snooze"
	Subject string    `json:"s"` // such as how long to snooze; may be empty
	Episode string    `json:"e"`
	Expires time.Time `json:"x"` // to the second
	Nonce   string    `json:"n"` // unlike that of any other link
}

// Signer makes and checks links. It is pure: that a link is used once is for
// Outbox.Spend.
type Signer struct{ key []byte }

// NewSigner takes a random key of 32 bytes.
func NewSigner(key []byte) (*Signer, error) {
	if len(key) != LinkKeySize {
		return nil, fmt.Errorf("links: the key has %d bytes, want %d", len(key), LinkKeySize)
	}
	return &Signer{key: key}, nil
}

// Sign returns the link as a token fit for an address.
func (s *Signer) Sign(l Link, now time.Time) (string, error) {
	switch {
	case l.Action == "" || l.Episode == "" || l.Nonce == "":
		return "", errors.New("links: a link needs an action, an episode and a nonce")
	case !l.Expires.After(now) || l.Expires.Sub(now) > longestLink:
		return "", fmt.Errorf("links: a link expires within %s from now", span(longestLink))
	}
	l.Expires = l.Expires.UTC().Truncate(time.Second)
	body, err := json.Marshal(l)
	if err != nil {
		return "", fmt.Errorf("links: %w", err)
	}
	token := base64.RawURLEncoding.EncodeToString(body)
	token += "." + s.signature(token)
	if len(token) > longestToken {
		return "", fmt.Errorf("links: the link has %d characters, at most %d are allowed", len(token), longestToken)
	}
	return token, nil
}

// Verify returns the link of a token that this signer made and that has not
// expired.
func (s *Signer) Verify(token string, now time.Time) (Link, error) {
	if len(token) > longestToken {
		return Link{}, ErrLinkAltered
	}
	text, signature, _ := strings.Cut(token, ".")
	if !hmac.Equal([]byte(signature), []byte(s.signature(text))) {
		return Link{}, ErrLinkAltered
	}
	body, err := base64.RawURLEncoding.Strict().DecodeString(text)
	if err != nil {
		return Link{}, ErrLinkAltered
	}
	var l Link
	if err := json.Unmarshal(body, &l); err != nil {
		return Link{}, ErrLinkAltered
	}
	if !now.Before(l.Expires) {
		return Link{}, ErrLinkExpired
	}
	return l, nil
}

// signature is over the token's text with a prefix of its own, so that the key
// signs nothing else by accident. It is compared as it is written: base64 has
// more than one text for the same bytes, as Go's decoder skips line breaks.
func (s *Signer) signature(text string) string {
	h := hmac.New(sha256.New, s.key)
	h.Write([]byte("recoat link 1\x00" + text))
	return base64.RawURLEncoding.EncodeToString(h.Sum(nil))
}

// Spent reports whether a link was used.
func (o *Outbox) Spent(ctx context.Context, l Link) (bool, error) {
	var n int32
	if err := o.db.Read.QueryRowContext(ctx, `SELECT count(*) FROM spent WHERE nonce=?`, l.Nonce).Scan(&n); err != nil {
		return false, fmt.Errorf("read the outbox: %w", err)
	}
	return n > 0, nil
}

// Spend notes that a verified link is used; the second time it is ErrLinkSpent.
// It is called before what the link allows is done.
func (o *Outbox) Spend(ctx context.Context, l Link, now time.Time) error {
	err := o.db.Tx(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, `DELETE FROM spent WHERE expires<?`, millis(now.Add(-spentSlack))); err != nil {
			return err
		}
		result, err := tx.ExecContext(ctx, `INSERT INTO spent(nonce, expires) VALUES (?,?) ON CONFLICT DO NOTHING`, l.Nonce, millis(l.Expires))
		if err != nil {
			return err
		}
		if n, err := result.RowsAffected(); err != nil || n == 1 {
			return err
		}
		return ErrLinkSpent
	})
	if err != nil {
		return fmt.Errorf("use a link: %w", err)
	}
	return nil
}
