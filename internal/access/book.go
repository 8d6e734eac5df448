package access

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"recoat/internal/sqldb"
)

// Book keeps who may come in. Its methods may be called at the same time.
type Book struct {
	db      *sqldb.DB
	hashing hashing
	brake   brake
	claim   claim
	now     func() time.Time
}

// Options are what a Book is made of.
type Options struct {
	Path string           // of its file
	Now  func() time.Time // time.Now if nil
}

// Open opens or creates the book.
func Open(ctx context.Context, o Options) (*Book, error) {
	db, err := sqldb.Open(ctx, o.Path, schema())
	if err != nil {
		return nil, fmt.Errorf("the book of accounts: %w", err)
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	return &Book{db: db, hashing: hashing{cost: usualCost()}, brake: newBrake(), now: o.Now}, nil
}

// Close closes the file.
func (b *Book) Close() error { return b.db.Close() }

// ErrUnknown says that there is no such account or node.
var ErrUnknown = errors.New("there is none of that name")

// Account is a person or a screen that may log in.
type Account struct {
	Name  string    `json:"name"`
	Role  Role      `json:"role"`
	Added time.Time `json:"added"`
}

const mostName = 40

// plainName is how a name is kept and compared: without case or outer spaces.
func plainName(name string) (string, error) {
	name = strings.ToLower(strings.TrimSpace(name))
	switch {
	case name == "":
		return "", &InputError{"the name", "is missing"}
	case !utf8.ValidString(name) || utf8.RuneCountInString(name) > mostName:
		return "", &InputError{"the name", fmt.Sprintf("is up to %d letters long", mostName)}
	case strings.ContainsFunc(name, func(r rune) bool { return !unicode.IsGraphic(r) }):
		return "", &InputError{"the name", "holds characters that cannot be seen"}
	}
	return name, nil
}

// Add makes an account. It refuses a name that is taken.
func (b *Book) Add(ctx context.Context, name string, role Role, password string) error {
	name, err := plainName(name)
	if err != nil {
		return err
	}
	if err := checkPassword(password); err != nil {
		return err
	}
	hash := b.hashing.hash(password)
	return b.tx(ctx, "add the account", func(tx *sql.Tx) error {
		return b.insert(ctx, tx, name, role, hash)
	})
}

func (b *Book) insert(ctx context.Context, tx *sql.Tx, name string, role Role, hash string) error {
	done, err := tx.ExecContext(ctx, `INSERT INTO account VALUES (?, ?, ?, ?) ON CONFLICT DO NOTHING`, name, role, hash, b.now().UnixMilli())
	if err != nil {
		return err
	}
	if n, err := done.RowsAffected(); err != nil || n == 0 {
		return errors.Join(err, &InputError{"the name", "is taken: choose another, or change that account's password"})
	}
	return b.enter(ctx, tx, "account added as "+string(role), name, "")
}

// SetPassword changes a password and ends every session of the account.
func (b *Book) SetPassword(ctx context.Context, name, password string) error {
	name, err := plainName(name)
	if err != nil {
		return err
	}
	if err := checkPassword(password); err != nil {
		return err
	}
	hash := b.hashing.hash(password)
	return b.tx(ctx, "change the password", func(tx *sql.Tx) error {
		if err := one(tx.ExecContext(ctx, `UPDATE account SET hash=? WHERE name=?`, hash, name)); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, `DELETE FROM session WHERE name=?`, name); err != nil {
			return err
		}
		return b.enter(ctx, tx, "password changed", name, "")
	})
}

// Remove takes an account out, with its sessions. The last owner stays, as
// nobody could configure anything without one.
func (b *Book) Remove(ctx context.Context, name string) error {
	name, err := plainName(name)
	if err != nil {
		return err
	}
	return b.tx(ctx, "remove the account", func(tx *sql.Tx) error {
		var others int
		if err := tx.QueryRowContext(ctx, `SELECT count(*) FROM account WHERE role=? AND name<>?`, Owner, name).Scan(&others); err != nil {
			return err
		}
		var role Role
		err := tx.QueryRowContext(ctx, `SELECT role FROM account WHERE name=?`, name).Scan(&role)
		switch {
		case errors.Is(err, sql.ErrNoRows):
			return ErrUnknown
		case err != nil:
			return err
		case role == Owner && others == 0:
			return &InputError{"the account", "is the only owner's: make another owner first"}
		}
		if _, err := tx.ExecContext(ctx, `DELETE FROM account WHERE name=?`, name); err != nil {
			return err
		}
		return b.enter(ctx, tx, "account removed", name, "")
	})
}

// Accounts lists them by name.
func (b *Book) Accounts(ctx context.Context) ([]Account, error) {
	rows, err := b.db.Read.QueryContext(ctx, `SELECT name, role, added FROM account ORDER BY name`)
	if err != nil {
		return nil, fmt.Errorf("list the accounts: %w", err)
	}
	defer rows.Close()
	var all []Account
	for rows.Next() {
		var a Account
		var added int64
		if err := rows.Scan(&a.Name, &a.Role, &added); err != nil {
			return nil, fmt.Errorf("list the accounts: %w", err)
		}
		a.Added = time.UnixMilli(added)
		all = append(all, a)
	}
	if err := rows.Err(); err != nil {
		return nil, fmt.Errorf("list the accounts: %w", err)
	}
	return all, nil
}

// tx runs do in one transaction, and names what failed.
func (b *Book) tx(ctx context.Context, what string, do func(*sql.Tx) error) error {
	err := b.db.Tx(ctx, do)
	var input *InputError
	if err == nil || errors.As(err, &input) || errors.Is(err, ErrUnknown) {
		return err
	}
	return fmt.Errorf("%s: %w", what, err)
}

// one is an error where a change found nothing to change.
func one(done sql.Result, err error) error {
	if err != nil {
		return err
	}
	n, err := done.RowsAffected()
	if err == nil && n == 0 {
		return ErrUnknown
	}
	return err
}
