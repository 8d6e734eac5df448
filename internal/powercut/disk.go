package powercut

import (
	"math/rand/v2"
	"path/filepath"
	"slices"
)

// sector is what a disk writes whole or not at all.
const sector = 512

// file is what is surely on the disk of one file, and what may be.
type file struct {
	synced  []byte
	pending []op
}

// disk holds files by the name they have now, and what their folders may still
// say of them.
type disk struct {
	names   map[string]*file // as the process sees them
	durable map[string]*file // as the folders on the disk say for sure
}

func newDisk() *disk { return &disk{names: map[string]*file{}, durable: map[string]*file{}} }

func (d *disk) do(o op) {
	switch o.kind {
	case create:
		if d.names[o.path] == nil {
			d.names[o.path] = &file{}
		}
	case write, truncate:
		if f := d.names[o.path]; f != nil { // else it has no name any more
			f.pending = append(f.pending, o)
		}
	case unlink:
		delete(d.names, o.path)
	case rename:
		if f := d.names[o.path]; f != nil {
			d.names[o.to] = f
			delete(d.names, o.path)
		}
	case syncFile:
		d.sync(o.path)
	case say:
	}
}

// sync makes a file's content durable, or what a folder says. That a file was
// synced does not put its name on the disk: only its folder's sync does.
func (d *disk) sync(path string) {
	if f := d.names[path]; f != nil {
		for _, o := range f.pending {
			f.synced = apply(f.synced, o, o.data)
		}
		f.pending = nil
		return
	}
	for name := range d.durable {
		if filepath.Dir(name) == path && d.names[name] == nil {
			delete(d.durable, name)
		}
	}
	for name, f := range d.names {
		if filepath.Dir(name) == path {
			d.durable[name] = f
		}
	}
}

// survivors chooses which names the folders have: those that were synced, and
// of each later change either side.
func (d *disk) survivors(g *rand.Rand) map[string]*file {
	left := map[string]*file{}
	var names []string
	for name := range d.names {
		names = append(names, name)
	}
	for name := range d.durable {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range slices.Compact(names) {
		before, after := d.durable[name], d.names[name]
		f := after
		if before != after && g.IntN(2) == 0 {
			f = before
		}
		if f != nil {
			left[name] = f
		}
	}
	return left
}

// content is what is surely there, and a choice of what may be: of each later
// write all, nothing, or some of its sectors.
func (f *file) content(g *rand.Rand) []byte {
	content := slices.Clone(f.synced)
	luck := g.IntN(4) // 0: nothing of it, 1: all of it, else a mixture
	for _, o := range f.pending {
		switch {
		case luck == 0:
		case luck == 1, o.kind == truncate && g.IntN(2) == 0:
			content = apply(content, o, o.data)
		case o.kind == truncate:
		default:
			content = tear(g, content, o)
		}
	}
	return content
}

func tear(g *rand.Rand, content []byte, o op) []byte {
	switch g.IntN(3) {
	case 0:
		return content
	case 1:
		return apply(content, o, o.data)
	}
	for at := int64(0); at < int64(len(o.data)); at += sector - (o.at+at)%sector {
		end := min(int64(len(o.data)), at+sector-(o.at+at)%sector)
		if g.IntN(2) == 0 {
			content = apply(content, op{kind: write, at: o.at + at}, o.data[at:end])
		}
	}
	return content
}

func apply(content []byte, o op, data []byte) []byte {
	end := o.at
	if o.kind == write {
		end += int64(len(data))
	}
	if grow := end - int64(len(content)); grow > 0 {
		content = append(content, make([]byte, grow)...)
	}
	if o.kind == truncate {
		return content[:o.at]
	}
	copy(content[o.at:], data)
	return content
}
