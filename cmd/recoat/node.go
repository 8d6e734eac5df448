package main

import (
	"fmt"
	"text/tabwriter"

	"recoat/internal/access"
)

type nodeCommand struct {
	List   nodeListCommand   `cmd:"" default:"withargs" help:"Nodes that may speak to this hub's broker."`
	Add    nodeAddCommand    `cmd:"" help:"Let a node in, or give it another password."`
	Remove nodeRemoveCommand `cmd:"" help:"Shut a node out, from its next message on."`
}

type nodeListCommand struct{ accessFlags }

// Run lists the nodes.
func (c *nodeListCommand) Run(s *session) error {
	return c.with(s, func(b *access.Book) error {
		all, err := b.Nodes(s.ctx)
		if err != nil {
			return err
		}
		if c.JSON {
			return writeJSON(s.stdout, append([]access.Node{}, all...))
		}
		if len(all) == 0 {
			fmt.Fprintln(s.stdout, "None yet. recoat node add ROOM NODE lets one in.")
		}
		w := tabwriter.NewWriter(s.stdout, 0, 0, 2, ' ', 0)
		for _, n := range all {
			fmt.Fprintf(w, "%s/%s\tsince %s\n", n.Room, n.Node, onClock(n.Added))
		}
		return w.Flush()
	})
}

type nodeAddCommand struct {
	accessFlags
	Room string `arg:"" help:"The room it measures."`
	Node string `arg:"" help:"Its name in that room."`
}

// nodeReport is what a node needs to be let in.
type nodeReport struct {
	User     string `json:"user"`
	Password string `json:"password"`
}

// Run lets a node in and shows its password, once.
func (c *nodeAddCommand) Run(s *session) error {
	for _, name := range []string{c.Room, c.Node} {
		if !nameForm.MatchString(name) {
			return usage{fmt.Errorf("%q: rooms and nodes have 1 to 32 small letters, digits or hyphens, such as \"back-room\"", name)}
		}
	}
	return c.with(s, func(b *access.Book) error {
		password, err := b.AddNode(s.ctx, c.Room, c.Node)
		if err != nil {
			return err
		}
		r := nodeReport{User: c.Room + "/" + c.Node, Password: password}
		if c.JSON {
			return writeJSON(s.stdout, r)
		}
		fmt.Fprintf(s.stdout, `%s may speak to this hub's broker. Its password, shown this once: %s
On the node, put the password into a file of mode 600, copy tls/authority.crt of
this hub's data folder beside it, and write into its configuration:
  [room]
  id = %q
  node = %q
  [broker]
  url = "ssl://THIS-MACHINE:8883"
  user = %q
  password_file = "node-password"
  ca_file = "authority.crt"
`, r.User, r.Password, c.Room, c.Node, r.User)
		return nil
	})
}

type nodeRemoveCommand struct {
	accessFlags
	Room string `arg:"" help:"The room it measures."`
	Node string `arg:"" help:"Its name in that room."`
}

// Run shuts a node out.
func (c *nodeRemoveCommand) Run(s *session) error {
	return c.with(s, func(b *access.Book) error {
		if err := b.RemoveNode(s.ctx, c.Room, c.Node); err != nil {
			return fmt.Errorf("%s/%s: %w", c.Room, c.Node, err)
		}
		return c.said(s, fmt.Sprintf("%s/%s is shut out.", c.Room, c.Node))
	})
}
