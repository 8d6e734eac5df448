package access

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"database/sql"
	"errors"
	"fmt"
	"time"
)

// Node is a node that may speak to the broker for its own topics.
type Node struct {
	Room  string    `json:"room"`
	Node  string    `json:"node"`
	Added time.Time `json:"added"`
}

// AddNode lets a node in and returns its password, which is shown once. A node
// that was in already gets another password.
func (b *Book) AddNode(ctx context.Context, room, node string) (password string, err error) {
	password = rand.Text()
	err = b.tx(ctx, "add the node", func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, `INSERT INTO node VALUES (?, ?, ?, ?) ON CONFLICT DO UPDATE SET digest=excluded.digest, added=excluded.added`, room, node, digest(password), b.now().UnixMilli()); err != nil {
			return err
		}
		return b.enter(ctx, tx, "node added", room+"/"+node, "")
	})
	if err != nil {
		return "", err
	}
	return password, nil
}

// RemoveNode shuts a node out, from its next message on.
func (b *Book) RemoveNode(ctx context.Context, room, node string) error {
	return b.tx(ctx, "remove the node", func(tx *sql.Tx) error {
		if err := one(tx.ExecContext(ctx, `DELETE FROM node WHERE room=? AND node=?`, room, node)); err != nil {
			return err
		}
		return b.enter(ctx, tx, "node removed", room+"/"+node, "")
	})
}

// Nodes lists them by room and name.
func (b *Book) Nodes(ctx context.Context) ([]Node, error) {
	rows, err := b.db.Read.QueryContext(ctx, `SELECT room, node, added FROM node ORDER BY room, node`)
	if err != nil {
		return nil, fmt.Errorf("list the nodes: %w", err)
	}
	defer rows.Close()
	var all []Node
	for rows.Next() {
		var n Node
		var added int64
		if err := rows.Scan(&n.Room, &n.Node, &added); err != nil {
			return nil, fmt.Errorf("list the nodes: %w", err)
		}
		n.Added = time.UnixMilli(added)
		all = append(all, n)
	}
	if err := rows.Err(); err != nil {
		return nil, fmt.Errorf("list the nodes: %w", err)
	}
	return all, nil
}

// AdmitsNode reports whether a password is the node's. It takes as long for a
// node that there is not.
func (b *Book) AdmitsNode(ctx context.Context, room, node string, password []byte) bool {
	kept := make([]byte, 32)
	err := b.db.Read.QueryRowContext(ctx, `SELECT digest FROM node WHERE room=? AND node=?`, room, node).Scan(&kept)
	same := subtle.ConstantTimeCompare(digest(string(password)), kept) == 1
	return same && err == nil
}

// KnowsNode reports whether a node is still let in.
func (b *Book) KnowsNode(ctx context.Context, room, node string) bool {
	var one int
	err := b.db.Read.QueryRowContext(ctx, `SELECT 1 FROM node WHERE room=? AND node=?`, room, node).Scan(&one)
	return !errors.Is(err, sql.ErrNoRows) && err == nil
}
