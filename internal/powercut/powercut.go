// Package powercut plays power cuts, for tests: it records what a process wrote
// and synced, and rebuilds the disks that a cut at any moment may have left.
//
// The model is that of SQLite's own crash tests (sqlite.org/testing.html, "Crash
// Testing"): what was synced is there; of each later write there is all,
// nothing, or some of its sectors. The same holds for names in a folder: a file
// made, renamed or removed since the folder was last synced is there or not.
package powercut

import (
	"bytes"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
)

// kind says what an Op does.
type kind uint8

const (
	write kind = iota
	truncate
	syncFile // a folder, too
	create
	unlink
	rename
	say // the process said something on its standard output
)

// op is one call that changed a file, or said something.
type op struct {
	kind kind
	path string
	to   string // of a rename
	at   int64  // offset, or length of a truncation
	data []byte
}

// Recording is what a process did to the files below a folder.
type Recording struct {
	root string
	ops  []op
}

// Available reports whether processes can be recorded here.
func Available() bool {
	_, err := exec.LookPath("strace")
	return err == nil
}

// Record runs a command to its end below strace, with its standard output in
// the recording. The files it uses are to be below root.
func Record(command *exec.Cmd, root string) (*Recording, error) {
	path, err := exec.LookPath("strace")
	if err != nil {
		return nil, err
	}
	f, err := os.CreateTemp("", "powercut")
	if err != nil {
		return nil, err
	}
	defer func() { _ = os.Remove(f.Name()) }()
	if err := f.Close(); err != nil {
		return nil, err
	}
	command.Args = append([]string{path, "-f", "-qq", "-y", "-xx", "-s", "16777216", "--seccomp-bpf", "-o", f.Name(),
		"-e", "trace=?open,openat,write,pwrite64,fsync,fdatasync,ftruncate,?rename,renameat,?renameat2,?unlink,unlinkat"}, command.Args...)
	command.Path = path
	if out, err := command.Output(); err != nil {
		var exit *exec.ExitError
		if errors.As(err, &exit) {
			return nil, fmt.Errorf("%w: %s%s", err, out, exit.Stderr)
		}
		return nil, err
	}
	text, err := os.ReadFile(f.Name())
	if err != nil {
		return nil, err
	}
	r := &Recording{root: root}
	if r.ops, err = parse(text, root); err != nil {
		return nil, err
	}
	return r, nil
}

// Len is the number of moments at which the power can be cut.
func (r *Recording) Len() int { return len(r.ops) + 1 }

// Syncs counts the calls that made something durable.
func (r *Recording) Syncs() (n int) {
	for _, o := range r.ops {
		if o.kind == syncFile {
			n++
		}
	}
	return n
}

// Said returns what the process had said before a moment.
func (r *Recording) Said(moment int) string {
	var b bytes.Buffer
	for _, o := range r.ops[:moment] {
		if o.kind == say {
			b.Write(o.data)
		}
	}
	return b.String()
}

// Image writes to folder one of the disks that a power cut at a moment may
// leave, chosen by g.
func (r *Recording) Image(g *rand.Rand, moment int, folder string) error {
	d := newDisk()
	for _, o := range r.ops[:moment] {
		d.do(o)
	}
	for name, f := range d.survivors(g) {
		relative := strings.TrimPrefix(name, r.root)
		path := filepath.Join(folder, filepath.FromSlash(relative))
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			return err
		}
		if err := os.WriteFile(path, f.content(g), 0o600); err != nil {
			return err
		}
	}
	return nil
}
