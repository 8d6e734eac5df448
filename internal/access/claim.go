package access

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"database/sql"
	"errors"
	"strings"
	"sync"
	"time"
)

// claimLife is how long a claim code may be used.
const claimLife = time.Hour

// claim is the code by which a new shop gets its owner.
type claim struct {
	mu      sync.Mutex
	code    string
	expires time.Time
}

// Claimed reports whether there is an owner.
func (b *Book) Claimed(ctx context.Context) (bool, error) {
	var n int
	err := b.db.Read.QueryRowContext(ctx, `SELECT count(*) FROM account WHERE role=?`, Owner).Scan(&n)
	return n > 0, err
}

// ClaimCode draws a new code, which the program shows on its terminal and
// nowhere else: who can read that is taken to be the owner. It is good once,
// for an hour. An earlier one is good no more.
func (b *Book) ClaimCode() string {
	b.claim.mu.Lock()
	defer b.claim.mu.Unlock()
	b.claim.code = strings.ToLower(rand.Text()[:12])
	b.claim.expires = b.now().Add(claimLife)
	return b.claim.code[:4] + "-" + b.claim.code[4:8] + "-" + b.claim.code[8:]
}

// Claim makes the first owner and logs them in. The error is
// ErrRefused for a code that is wrong or has expired, a *WaitError after too
// many of those, or an *InputError.
func (b *Book) Claim(ctx context.Context, origin, code, name, password string) (secret string, err error) {
	keys := []string{"claim", "from " + origin}
	if wait := b.brake.wait(b.now(), keys...); wait > 0 {
		return "", &WaitError{wait}
	}
	if !b.claim.is(code, b.now()) {
		b.brake.failure(b.now(), keys...)
		return "", errors.Join(ErrRefused, b.note(ctx, "claim refused", "", origin))
	}
	name, err = plainName(name)
	if err != nil {
		return "", err
	}
	if err := checkPassword(password); err != nil {
		return "", err
	}
	hash := b.hashing.hash(password)
	err = b.tx(ctx, "claim the shop", func(tx *sql.Tx) error {
		var owners int
		if err := tx.QueryRowContext(ctx, `SELECT count(*) FROM account WHERE role=?`, Owner).Scan(&owners); err != nil {
			return err
		}
		if owners > 0 {
			return &InputError{"the shop", "has an owner: log in, or ask them for an account"}
		}
		return b.insert(ctx, tx, name, Owner, hash)
	})
	if err != nil {
		return "", err
	}
	b.claim.spend()
	return b.begin(ctx, name, "claimed the shop", origin)
}

// is compares without regard to case, spaces and hyphens.
func (c *claim) is(code string, now time.Time) bool {
	code = strings.ToLower(strings.NewReplacer("-", "", " ", "").Replace(code))
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.code != "" && now.Before(c.expires) && subtle.ConstantTimeCompare([]byte(code), []byte(c.code)) == 1
}

func (c *claim) spend() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.code = ""
}
