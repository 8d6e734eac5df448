package faults

import (
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"time"
)

// faults are what may happen, by name. Each leaves the part it struck running.
func (c *campaign) faults() map[string]func() {
	all := map[string]func(){
		"hub killed":                     func() { c.hub.kill(); c.startHub() },
		"broker killed, state forgotten": func() { c.broker.kill(); c.startBroker() },
		"node killed":                    func() { key := c.someNode(); c.nodes[key].kill(); c.startNode(key, key) },
		"node's machine restarted":       c.reboot,
		"hub's network cut":              func() { c.hubSide.cut() },
		"node's network cut":             func() { c.nodeSide.cut() },
		"network down a while":           c.outage,
		"network half open":              c.halfOpen,
		"clock stepped":                  c.step,
		"torn tail on the hub's log":     c.tornTail,
		"cloned card":                    c.clone,
		"hub hangs":                      c.hang,
	}
	if c.small {
		all["hub's disk full"] = func() { c.fill(c.hubFolder) }
		all["node's disk full"] = func() { c.fill(filepath.Dir(c.spools[c.someNode()])) }
		all["hub's disk read-only"] = c.readOnly
	}
	return all
}

func (c *campaign) someNode() string { return []string{"bench", "door"}[c.IntN(2)] }

func (c *campaign) moment() { time.Sleep(time.Duration(100+c.IntN(300)) * time.Millisecond) }

// reboot starts a node's machine anew: another boot, the same card.
func (c *campaign) reboot() {
	key := c.someNode()
	c.nodes[key].kill()
	c.restarting++
	c.boots[key] = fmt.Sprintf("%s-r%d", key, c.restarting)
	c.startNode(key, key)
}

func (c *campaign) side() *proxy { return []*proxy{c.hubSide, c.nodeSide}[c.IntN(2)] }

func (c *campaign) outage() {
	p := c.side()
	p.set(func() { p.down = true })
	p.cut()
	c.moment()
	p.set(func() { p.down = false })
}

// halfOpen lets connections stand and nothing through, then either lets it all
// through or cuts them.
func (c *campaign) halfOpen() {
	p := c.side()
	p.set(func() { p.mute = true })
	c.moment()
	if c.IntN(2) == 0 {
		p.cut()
	}
	p.set(func() { p.mute = false })
}

// step moves a node's clock by up to five hours, either way.
func (c *campaign) step() {
	d := time.Duration(c.IntN(600)-300) * time.Minute
	c.backwards++ // this step, or the one that takes it back
	path := c.spools[c.someNode()] + ".clock"
	if err := os.WriteFile(path+".new", []byte(d.String()), 0o600); err != nil {
		c.Fatal(err)
	}
	if err := os.Rename(path+".new", path); err != nil {
		c.Fatal(err)
	}
}

// tornTail leaves half a write at the end of the log of a hub that was killed.
func (c *campaign) tornTail() {
	c.hub.kill()
	f, err := os.OpenFile(filepath.Join(c.hubFolder, "readings.db-wal"), os.O_APPEND|os.O_WRONLY, 0o600)
	if err == nil {
		noise := make([]byte, 1+c.IntN(9000))
		for i := range noise {
			noise[i] = byte(c.Uint32())
		}
		_, _ = f.Write(noise)
		_ = f.Close()
	}
	c.startHub()
}

// clone runs a second machine of one node's name for a while.
func (c *campaign) clone() {
	key := fmt.Sprintf("clone-%d", c.actions["cloned card"])
	c.boots[key], c.spools[key] = key, filepath.Join(c.TempDir(), "spool.db")
	c.startNode(key, "bench")
	c.moment()
	c.nodes[key].kill()
}

func (c *campaign) hang() {
	_ = c.hub.command.Process.Signal(syscall.SIGSTOP)
	c.moment()
	_ = c.hub.command.Process.Signal(syscall.SIGCONT)
}

// fill takes all the room there is on a small disk, for a while.
func (c *campaign) fill(folder string) {
	ballast := filepath.Join(folder, "ballast")
	f, err := os.Create(ballast)
	if err != nil {
		return // it is full already
	}
	for block := make([]byte, 64<<10); err == nil; {
		_, err = f.Write(block)
	}
	_ = f.Close()
	c.moment()
	if err := os.Remove(ballast); err != nil {
		c.Fatal(err)
	}
}

// readOnly starts the hub on a disk that it cannot write to, and then on one
// that it can.
func (c *campaign) readOnly() {
	c.hub.kill()
	if err := syscall.Mount("tmpfs", c.hubFolder, "tmpfs", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""); err != nil {
		c.Fatal(err)
	}
	c.startHub()
	c.moment()
	c.hub.kill()
	if err := syscall.Mount("tmpfs", c.hubFolder, "tmpfs", syscall.MS_REMOUNT, ""); err != nil {
		c.Fatal(err)
	}
	c.startHub()
}
