package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"text/tabwriter"

	"golang.org/x/term"

	"recoat/internal/access"
)

type peopleCommand struct {
	List     peopleListCommand     `cmd:"" default:"withargs" help:"Who may come in."`
	Add      peopleAddCommand      `cmd:"" help:"Let somebody in."`
	Password peoplePasswordCommand `cmd:"" help:"Set a password; every session of that account ends."`
	Remove   peopleRemoveCommand   `cmd:"" help:"Let somebody in no more."`
	Log      peopleLogCommand      `cmd:"" help:"Who came in, who was refused, and what changed; newest first."`
}

// accessFlags are those of every command that works on the accounts. A recoat
// that runs may have them open at the same time.
type accessFlags struct {
	Config string `help:"Configuration file; it names the data folder." type:"path" placeholder:"FILE"`
	JSON   bool   `name:"json" help:"Write JSON."`
}

// with opens the accounts, runs do and closes them again.
func (f accessFlags) with(s *session, do func(*access.Book) error) error {
	cfg, err := loadConfig(f.Config)
	if err != nil {
		return err
	}
	book, err := access.Open(s.ctx, access.Options{Path: cfg.Data.accounts()})
	if err != nil {
		return err
	}
	err = errors.Join(do(book), book.Close())
	var input *access.InputError
	if errors.As(err, &input) {
		return usage{err}
	}
	return err
}

type peopleListCommand struct{ accessFlags }

// Run lists the accounts.
func (c *peopleListCommand) Run(s *session) error {
	return c.with(s, func(b *access.Book) error {
		all, err := b.Accounts(s.ctx)
		if err != nil {
			return err
		}
		if c.JSON {
			return writeJSON(s.stdout, append([]access.Account{}, all...))
		}
		if len(all) == 0 {
			fmt.Fprintln(s.stdout, "Nobody yet. recoat people add NAME --role owner makes the first.")
		}
		w := tabwriter.NewWriter(s.stdout, 0, 0, 2, ' ', 0)
		for _, a := range all {
			fmt.Fprintf(w, "%s\t%s\tsince %s\n", a.Name, a.Role, onClock(a.Added))
		}
		return w.Flush()
	})
}

// passwordFlags say where a password comes from: never from the command line,
// where others on the machine could read it.
type passwordFlags struct {
	PasswordFile string `help:"File that holds the password; else it is asked for, or read from standard input." type:"path" placeholder:"FILE"`
}

func (f passwordFlags) read(s *session) (string, error) {
	if f.PasswordFile != "" {
		return secret("--password-file", f.PasswordFile)
	}
	fd := int(os.Stdin.Fd()) //nolint:gosec // a file descriptor is small
	if term.IsTerminal(fd) {
		fmt.Fprint(s.stderr, "Password (ten characters or more): ")
		text, err := term.ReadPassword(fd)
		fmt.Fprintln(s.stderr)
		return string(text), err
	}
	line, err := bufio.NewReader(io.LimitReader(os.Stdin, 4096)).ReadString('\n')
	if err != nil && !errors.Is(err, io.EOF) {
		return "", fmt.Errorf("read the password: %w", err)
	}
	return strings.TrimRight(line, "\r\n"), nil
}

type peopleAddCommand struct {
	accessFlags
	passwordFlags
	Name string `arg:"" help:"The name they log in with."`
	Role string `help:"owner may do everything, helper notes work, wall looks on." default:"helper"`
}

// Run lets somebody in.
func (c *peopleAddCommand) Run(s *session) error {
	role, err := access.ParseRole(c.Role)
	if err != nil {
		return usage{err}
	}
	password, err := c.read(s)
	if err != nil {
		return err
	}
	return c.with(s, func(b *access.Book) error {
		if err := b.Add(s.ctx, c.Name, role, password); err != nil {
			return err
		}
		return c.said(s, fmt.Sprintf("%s may come in, as %s.", c.Name, role))
	})
}

// said answers a command that changed something.
func (f accessFlags) said(s *session, text string) error {
	if f.JSON {
		return writeJSON(s.stdout, struct {
			Done string `json:"done"`
		}{text})
	}
	fmt.Fprintln(s.stdout, text)
	return nil
}

type peoplePasswordCommand struct {
	accessFlags
	passwordFlags
	Name string `arg:"" help:"Whose it is."`
}

// Run sets a password.
func (c *peoplePasswordCommand) Run(s *session) error {
	password, err := c.read(s)
	if err != nil {
		return err
	}
	return c.with(s, func(b *access.Book) error {
		if err := b.SetPassword(s.ctx, c.Name, password); err != nil {
			return fmt.Errorf("%s: %w", c.Name, err)
		}
		return c.said(s, fmt.Sprintf("The password of %s is changed; log in again everywhere.", c.Name))
	})
}

type peopleRemoveCommand struct {
	accessFlags
	Name string `arg:"" help:"Who."`
}

// Run takes an account out.
func (c *peopleRemoveCommand) Run(s *session) error {
	return c.with(s, func(b *access.Book) error {
		if err := b.Remove(s.ctx, c.Name); err != nil {
			return fmt.Errorf("%s: %w", c.Name, err)
		}
		return c.said(s, fmt.Sprintf("%s may not come in any more.", c.Name))
	})
}

type peopleLogCommand struct {
	accessFlags
	Last int32 `help:"How many lines." default:"50"`
}

// Run shows the book of log-ins.
func (c *peopleLogCommand) Run(s *session) error {
	return c.with(s, func(b *access.Book) error {
		all, err := b.Entries(s.ctx, c.Last)
		if err != nil {
			return err
		}
		if c.JSON {
			return writeJSON(s.stdout, append([]access.Entry{}, all...))
		}
		w := tabwriter.NewWriter(s.stdout, 0, 0, 2, ' ', 0)
		for _, e := range all {
			fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", onClock(e.At), e.What, e.Who, e.Origin)
		}
		return w.Flush()
	})
}
