package access

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"database/sql"
	"encoding/base64"
	"errors"
	"fmt"
	"time"
)

// How long a session lasts: unused, and altogether. A phone in a shop is used
// by its owner alone and should not ask for a password with gloves on.
const (
	idleLife    = 30 * 24 * time.Hour
	longestLife = 180 * 24 * time.Hour
	// seenEvery is how closely it is noted when a session was last used.
	seenEvery = time.Hour
)

// ErrRefused is what log-in and claim answer to anything wrong with the name,
// the password or the code: the same for all, so that it tells nothing.
var ErrRefused = errors.New("that name and password do not go together")

// WaitError says that there were too many failures, and when to try again.
type WaitError struct{ Wait time.Duration }

func (e *WaitError) Error() string {
	return fmt.Sprintf("too many tries: try again in %s", max(e.Wait.Round(time.Second), time.Second))
}

// decoy is hashed where there is no such account, so that the answer takes as
// long as for one that there is.
const decoy = "$argon2id$v=19$m=19456,t=2,p=1$AAAAAAAAAAAAAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"

// LogIn checks a name and a password from an address and returns the secret of
// a new session. The error is ErrRefused or a *WaitError where it is not one of
// the file's.
func (b *Book) LogIn(ctx context.Context, origin, name, password string) (secret string, err error) {
	given := name
	name, err = plainName(name)
	if err != nil {
		name, given = "", ""
	}
	keys := []string{"from " + origin, "as " + name}
	if wait := b.brake.wait(b.now(), keys...); wait > 0 {
		return "", &WaitError{wait}
	}
	hash := decoy
	err = b.db.Read.QueryRowContext(ctx, `SELECT hash FROM account WHERE name=?`, name).Scan(&hash)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return "", fmt.Errorf("log in: %w", err)
	}
	if !b.hashing.matches(password, hash) || errors.Is(err, sql.ErrNoRows) {
		b.brake.failure(b.now(), keys...)
		return "", errors.Join(ErrRefused, b.note(ctx, "log-in refused", clip(given), origin))
	}
	b.brake.success(keys...)
	return b.begin(ctx, name, "logged in", origin)
}

// clip bounds what a stranger can have written into the book.
func clip(name string) string {
	if r := []rune(name); len(r) > mostName {
		return string(r[:mostName])
	}
	return name
}

func (b *Book) note(ctx context.Context, what, who, origin string) error {
	return b.tx(ctx, "note it", func(tx *sql.Tx) error { return b.enter(ctx, tx, what, who, origin) })
}

// begin makes a session of 128 random bits, of which only the digest is kept,
// and clears away those that have ended.
func (b *Book) begin(ctx context.Context, name, what, origin string) (secret string, err error) {
	raw := make([]byte, 16)
	_, _ = rand.Read(raw) // crypto/rand ends the program rather than fail
	secret = base64.RawURLEncoding.EncodeToString(raw)
	now := b.now().UnixMilli()
	err = b.tx(ctx, "log in", func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, `DELETE FROM session WHERE seen < ? OR began < ?`, now-idleLife.Milliseconds(), now-longestLife.Milliseconds()); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, `INSERT INTO session VALUES (?, ?, ?, ?)`, digest(secret), name, now, now); err != nil {
			return err
		}
		return b.enter(ctx, tx, what, name, origin)
	})
	if err != nil {
		return "", err
	}
	return secret, nil
}

func digest(secret string) []byte {
	d := sha256.Sum256([]byte(secret))
	return d[:]
}

// Visitor returns whose session a secret belongs to. It is false for one that
// is unknown or has ended. A session that seems to begin in the future, because
// the clock was set back, goes on: it ends by what is seen of it later.
func (b *Book) Visitor(ctx context.Context, secret string) (Visitor, bool) {
	var v Visitor
	var began, seen int64
	key := digest(secret)
	err := b.db.Read.QueryRowContext(ctx, `SELECT a.name, a.role, s.began, s.seen FROM session s JOIN account a USING(name) WHERE s.digest=?`, key).Scan(&v.Name, &v.Role, &began, &seen)
	now := b.now()
	if err != nil || now.Sub(time.UnixMilli(seen)) > idleLife || now.Sub(time.UnixMilli(began)) > longestLife {
		return Visitor{}, false
	}
	if now.Sub(time.UnixMilli(seen)).Abs() > seenEvery {
		// That it was used is not worth failing a page for.
		_, _ = b.db.Write.ExecContext(ctx, `UPDATE session SET seen=? WHERE digest=?`, now.UnixMilli(), key)
	}
	return v, true
}

// LogOut ends a session, or every session of its account.
func (b *Book) LogOut(ctx context.Context, secret string, everywhere bool) error {
	v, ok := b.Visitor(ctx, secret)
	if !ok {
		return nil
	}
	return b.tx(ctx, "log out", func(tx *sql.Tx) error {
		statement, of, what := `DELETE FROM session WHERE digest=?`, any(digest(secret)), "logged out"
		if everywhere {
			statement, of, what = `DELETE FROM session WHERE name=?`, v.Name, "logged out everywhere"
		}
		if _, err := tx.ExecContext(ctx, statement, of); err != nil {
			return err
		}
		return b.enter(ctx, tx, what, v.Name, "")
	})
}
