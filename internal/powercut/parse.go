package powercut

import (
	"bufio"
	"bytes"
	"fmt"
	"path"
	"regexp"
	"strconv"
	"strings"
)

// The lines of strace: a call whole, or its beginning and, further down, its
// end.
var (
	whole   = regexp.MustCompile(`^(\d+) +([a-z0-9]+)\((.*)\) += (-?\d+)`)
	begun   = regexp.MustCompile(`^(\d+) +([a-z0-9]+)\((.*?),? *<unfinished \.\.\.>$`)
	resumed = regexp.MustCompile(`^(\d+) +<\.\.\. ([a-z0-9]+) resumed>,? ?(.*)\) += (-?\d+)`)
	fdPath  = regexp.MustCompile(`^(\d+)<(.*)>$`)
)

// parse turns what strace wrote into ops, in order: a write counts from its
// beginning, a sync from its end, and what failed not at all.
func parse(text []byte, root string) ([]op, error) {
	p := parser{root: root, open: map[string]pending{}, offsets: map[string]int64{}}
	lines := bufio.NewScanner(bytes.NewReader(text))
	lines.Buffer(nil, len(text)+1)
	for lines.Scan() {
		if err := p.line(lines.Text()); err != nil {
			return nil, err
		}
	}
	ops := p.ops[:0]
	for _, o := range p.ops {
		if o.path != "" {
			ops = append(ops, o)
		}
	}
	return ops, lines.Err()
}

type pending struct {
	args  string
	place int // kept among the ops for what it writes
}

type parser struct {
	root    string
	ops     []op
	open    map[string]pending // by thread
	offsets map[string]int64
}

func (p *parser) line(s string) error {
	if m := whole.FindStringSubmatch(s); m != nil {
		p.ops = append(p.ops, op{})
		return p.call(m[2], m[3], m[4], len(p.ops)-1)
	}
	if m := begun.FindStringSubmatch(s); m != nil {
		p.ops = append(p.ops, op{})
		p.open[m[1]] = pending{m[3], len(p.ops) - 1}
		return nil
	}
	if m := resumed.FindStringSubmatch(s); m != nil {
		b := p.open[m[1]]
		delete(p.open, m[1])
		args, place := b.args, b.place
		if m[3] != "" {
			args = strings.TrimSuffix(b.args, ",") + ", " + m[3]
		}
		if strings.HasSuffix(m[2], "sync") {
			p.ops = append(p.ops, op{})
			place = len(p.ops) - 1
		}
		return p.call(m[2], args, m[4], place)
	}
	return nil // a signal, or an exit
}

func (p *parser) call(name, args, result string, place int) error {
	if strings.HasPrefix(result, "-") {
		return nil
	}
	var o op
	var err error
	switch a := splitArgs(args); name {
	case "open", "openat":
		o, err = p.opened(args)
	case "write", "pwrite64":
		o, err = p.written(name, a)
	case "ftruncate":
		o.kind = truncate
		if o.path, err = fdOf(a[0]); err == nil {
			o.at, err = strconv.ParseInt(a[1], 10, 64)
		}
	case "fsync", "fdatasync":
		o.kind = syncFile
		o.path, err = fdOf(a[0])
	case "unlink", "unlinkat":
		o.kind = unlink
		o.path, err = p.named(a, 0)
	case "rename", "renameat", "renameat2":
		o.kind = rename
		if o.path, err = p.named(a, 0); err == nil {
			o.to, err = p.named(a, 1)
		}
	}
	if err != nil {
		return fmt.Errorf("%s(%.200s): %w", name, args, err)
	}
	if o.kind != say && o.path != p.root && !strings.HasPrefix(o.path, p.root+"/") || strings.HasSuffix(o.path, "-shm") {
		return nil // elsewhere, or memory that a power cut empties anyway
	}
	p.ops[place] = o
	return nil
}

// opened is a file that came to be. One that was there already does so again,
// which changes nothing.
func (p *parser) opened(args string) (op, error) {
	if !strings.Contains(args, "O_CREAT") {
		return op{}, nil
	}
	name, err := p.named(splitArgs(args), 0)
	return op{kind: create, path: name}, err
}

func (p *parser) written(name string, a []string) (op, error) {
	file, err := fdOf(a[0])
	if err != nil {
		return op{}, err
	}
	data, err := text(a[1])
	if err != nil {
		return op{}, err
	}
	if strings.HasPrefix(a[0], "1<") {
		return op{kind: say, path: "-", data: data}, nil
	}
	o := op{kind: write, path: file, data: data}
	if name == "pwrite64" {
		o.at, err = strconv.ParseInt(a[3], 10, 64)
		return o, err
	}
	o.at = p.offsets[file]
	p.offsets[file] += int64(len(data))
	return o, nil
}

// named returns the n-th path among the arguments, whichever call it is.
func (p *parser) named(a []string, n int) (string, error) {
	for _, x := range a {
		if !strings.HasPrefix(x, `"`) {
			continue
		}
		if n == 0 {
			name, err := text(x)
			return path.Clean(string(name)), err
		}
		n--
	}
	return "", fmt.Errorf("no path in %q", a)
}

func fdOf(arg string) (string, error) {
	m := fdPath.FindStringSubmatch(arg)
	if m == nil {
		return "", fmt.Errorf("%q is not a descriptor with its path", arg)
	}
	name := m[2]
	if strings.Contains(name, `\x`) {
		b, err := text(`"` + name + `"`)
		return string(b), err
	}
	return name, nil
}

// text decodes a string of hexadecimal escapes.
func text(arg string) ([]byte, error) {
	s, found := strings.CutPrefix(arg, `"`)
	s, closed := strings.CutSuffix(s, `"`)
	if !found || !closed || len(s)%4 != 0 {
		return nil, fmt.Errorf("%.60q is not a whole string", arg)
	}
	data := make([]byte, 0, len(s)/4)
	for i := 0; i < len(s); i += 4 {
		b, err := strconv.ParseUint(s[i+2:i+4], 16, 8)
		if err != nil || s[i:i+2] != `\x` {
			return nil, fmt.Errorf("%.60q is not all escapes", arg)
		}
		data = append(data, byte(b))
	}
	return data, nil
}

func splitArgs(args string) []string { return strings.Split(args, ", ") }
