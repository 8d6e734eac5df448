package faults

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"recoat/internal/shop"
	"recoat/internal/store/sqlite"
	"recoat/sensors"
)

// The variables that say how many faults a campaign holds and which ones.
const (
	countVariable = "RECOAT_FAULTS"
	seedVariable  = "RECOAT_SEED"
)

// quick is an invented product that is ready soon.
const quick = `
name = "Fuller Street test coat"
family = "waterborne"
[stated]
air = "23C"
rh = 50
film = "100um"
touch = "5m"
recoat = "10m"
handle = "30d"
cure = "60d"
`

// identity of a round, within the one room.
type identity struct {
	node, boot string
	seq        uint64
}

// campaign is a shop that everything happens to.
type campaign struct {
	*testing.T
	*rand.Rand
	stderr *os.File

	hubFolder  string
	small      bool // the folders are small disks that can be filled
	hubSide    *proxy
	nodeSide   *proxy
	hub        *child
	broker     *child
	nodes      map[string]*child
	spools     map[string]string // by node; clones by a name of their own
	boots      map[string]string
	phone      *httptest.Server
	coats      []string
	actions    map[string]int
	backwards  int // steps of a clock
	restarting int
	flaky      bool // the phone's service fails now and then, and tries are minutes apart

	mu      sync.Mutex
	have    map[identity]bool
	drained map[string]bool
	left    map[string]int // rounds that a node which measures no more has still to send
	told    map[string]int // messages at the phone, by the coat they are of
	bad     []string
}

func newCampaign(t *testing.T, seed uint64) *campaign {
	t.Helper()
	c := &campaign{
		T: t, Rand: rand.New(rand.NewPCG(seed, 0)), hubSide: newProxy(t), nodeSide: newProxy(t), nodes: map[string]*child{}, spools: map[string]string{},
		boots: map[string]string{}, have: map[identity]bool{}, drained: map[string]bool{}, left: map[string]int{}, told: map[string]int{}, actions: map[string]int{}, small: true,
	}
	var err error
	if c.stderr, err = os.Create(filepath.Join(t.TempDir(), "stderr")); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if text, err := os.ReadFile(c.stderr.Name()); err == nil && t.Failed() {
			t.Logf("%s", text[max(0, len(text)-60000):])
		}
		_ = c.stderr.Close()
	})
	c.phone = httptest.NewServer(http.HandlerFunc(c.ring))
	t.Cleanup(c.phone.Close)
	c.hubFolder = c.disk("256m")
	c.spools["bench"], c.spools["door"] = filepath.Join(c.disk("32m"), "spool.db"), filepath.Join(c.disk("32m"), "spool.db")
	c.boots["bench"], c.boots["door"] = "bench-1", "door-1"
	c.furnish()
	return c
}

// disk is a folder, on a small file system of its own where that may be had.
func (c *campaign) disk(size string) string {
	folder := c.TempDir()
	if err := syscall.Mount("tmpfs", folder, "tmpfs", 0, "size="+size); err != nil {
		c.small = false
		return folder
	}
	c.Cleanup(func() { _ = syscall.Unmount(folder, syscall.MNT_DETACH) })
	return folder
}

// furnish gives the hub the last three hours of the room, and a product.
func (c *campaign) furnish() {
	c.Helper()
	s, err := sqlite.Open(c.Context(), filepath.Join(c.hubFolder, "readings.db"))
	if err != nil {
		c.Fatal(err)
	}
	var rounds []sensors.Round
	for n := range 180 {
		rounds = append(rounds, sensors.Round{
			Node: "bench", Boot: "before", Seq: uint64(n + 1), Time: time.Now().Add(time.Duration(n-181) * time.Minute), ClockSet: true, Readings: readings(1),
		})
	}
	if err := errors.Join(s.Append(c.Context(), attic, rounds), s.Close()); err != nil {
		c.Fatal(err)
	}
	c.journal(func(j *shop.Journal) error {
		label, err := shop.LoadProduct(strings.NewReader(quick), "quick")
		if err != nil {
			return err
		}
		if err := j.AddRoom(c.Context(), shop.Room{ID: attic, Title: "Attic"}, time.Now()); err != nil {
			return err
		}
		_, err = j.PutProduct(c.Context(), label, time.Now())
		return err
	})
}

func (c *campaign) journal(do func(*shop.Journal) error) {
	c.Helper()
	j, err := shop.OpenJournal(c.Context(), filepath.Join(c.hubFolder, "journal.db"))
	if err != nil {
		c.Fatal(err)
	}
	if err := errors.Join(do(j), j.Close()); err != nil {
		c.Fatal(err)
	}
}

// coat notes a coat of half an hour ago, which will be found ready.
func (c *campaign) coat() {
	c.Helper()
	name := fmt.Sprintf("Stool %d", len(c.coats)+1)
	c.journal(func(j *shop.Journal) error {
		p, err := j.AddPiece(c.Context(), shop.Piece{Name: name, Parts: []shop.Part{{Name: "seat", Room: attic}}}, time.Now())
		if err != nil {
			return err
		}
		_, err = j.ApplyCoat(c.Context(), shop.Application{Part: p.Parts[0].ID, Product: "f-0001", Applied: time.Now().Add(-30 * time.Minute), Film: 100}, time.Now())
		return err
	})
	c.coats = append(c.coats, name)
}

// ring takes a message, or not: the phone's service fails now and then.
func (c *campaign) ring(w http.ResponseWriter, r *http.Request) {
	var m struct {
		Title string `json:"title"`
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if err := json.NewDecoder(r.Body).Decode(&m); err != nil || c.flaky && c.actions["phone fails"]%3 == 1 {
		c.actions["phone fails"]++
		w.WriteHeader(http.StatusServiceUnavailable)
		return
	}
	c.actions["phone fails"]++
	if _, piece, found := strings.Cut(m.Title, ": "); found {
		piece, _, _ = strings.Cut(piece, ",")
		c.told[piece]++
	}
}

func (c *campaign) startHub() {
	c.hub = launch(c.T, c.stderr, func(line string) {
		if strings.HasPrefix(line, "bad") {
			c.mu.Lock()
			c.bad = append(c.bad, line)
			c.mu.Unlock()
		}
	}, "hub", c.hubFolder, c.hubSide.url(), c.phone.URL)
}

func (c *campaign) startBroker() {
	c.broker = launch(c.T, c.stderr, func(line string) {
		if at, ok := strings.CutPrefix(line, "at "); ok {
			for _, p := range []*proxy{c.hubSide, c.nodeSide} {
				p.set(func() { p.backend = at })
			}
		}
	}, "broker")
}

// startNode starts a node that says it is called name, on the spool of key.
func (c *campaign) startNode(key, name string) {
	boot := c.boots[key]
	c.nodes[key] = launch(c.T, c.stderr, func(line string) {
		c.mu.Lock()
		defer c.mu.Unlock()
		if text, ok := strings.CutPrefix(line, "have "); ok {
			seq, err := strconv.ParseUint(text, 10, 64)
			if err == nil {
				c.have[identity{name, boot, seq}] = true
			}
		}
		if line == "drained" {
			c.drained[key] = true
		}
		if text, ok := strings.CutPrefix(line, "left "); ok {
			if n, err := strconv.Atoi(text); err == nil {
				c.left[key] = n
			}
		}
	}, "node", name, boot, c.spools[key], c.nodeSide.url())
}

// heal mends all and waits until the spools are empty.
func (c *campaign) heal() {
	c.Helper()
	for _, p := range []*proxy{c.hubSide, c.nodeSide} {
		p.set(func() { p.mute, p.down = false, false })
		p.cut()
	}
	var clones []string
	for key, spool := range c.spools {
		if err := os.WriteFile(spool+".hold", nil, 0o600); err != nil {
			c.Fatal(err)
		}
		if key != "bench" && key != "door" {
			clones = append(clones, key)
		}
	}
	c.await("drained", "bench", "door")
	c.nodes["bench"].kill()
	slices.Sort(clones)
	for _, key := range clones { // one after the other: they have one name
		c.startNode(key, "bench")
		c.await("drained", key)
		c.nodes[key].kill()
	}
	end := time.Now().Add(5 * time.Minute)
	for {
		c.mu.Lock()
		missing := slices.DeleteFunc(slices.Clone(c.coats), func(piece string) bool { return c.told[piece] > 0 })
		c.mu.Unlock()
		if len(missing) == 0 {
			return
		}
		if time.Now().After(end) {
			c.Fatalf("%d of %d coats were never told of: %v", len(missing), len(c.coats), missing)
		}
		time.Sleep(20 * time.Millisecond)
	}
}

// A spool that is to be empty has to have fewer rounds every so often, and to be
// empty in the end, on a machine that is busy with other things too.
const (
	standstill = 2 * time.Minute
	longest    = 15 * time.Minute
)

func (c *campaign) await(what string, keys ...string) {
	c.Helper()
	c.mu.Lock()
	clear(c.drained) // what was said before does not count
	clear(c.left)
	c.mu.Unlock()
	began := time.Now()
	for _, key := range keys {
		least, moved := math.MaxInt, time.Now()
		for done := false; !done; time.Sleep(20 * time.Millisecond) {
			c.mu.Lock()
			done = c.drained[key]
			left, known := c.left[key]
			c.mu.Unlock()
			if known && left < least {
				least, moved = left, time.Now()
			}
			if time.Since(moved) > standstill || time.Since(began) > longest {
				c.dump()
				c.Fatalf("%s is not %s: %d rounds are left, and have been for %v", key, what, left, time.Since(moved).Round(time.Second))
			}
		}
	}
}

// dump lets the hub and the nodes say what each is at, which ends them.
func (c *campaign) dump() {
	for _, part := range append(slices.Collect(maps.Values(c.nodes)), c.hub) {
		_ = part.command.Process.Signal(syscall.SIGQUIT)
	}
	time.Sleep(time.Second)
}

// TestCampaign does random things to a shop and looks at what is left.
func TestCampaign(t *testing.T) {
	count := 30
	if testing.Short() {
		count = 10
	}
	if n, err := strconv.Atoi(os.Getenv(countVariable)); err == nil {
		count = n
	}
	seed := uint64(time.Now().UnixNano())
	if n, err := strconv.ParseUint(os.Getenv(seedVariable), 10, 64); err == nil {
		seed = n
	}
	t.Logf("repeat with %s=%d %s=%d", countVariable, count, seedVariable, seed)
	c := newCampaign(t, seed)
	c.flaky = count > 30
	c.startBroker()
	c.startHub()
	c.startNode("bench", "bench")
	c.startNode("door", "door")
	time.Sleep(300 * time.Millisecond)
	faults := c.faults()
	names := make([]string, 0, len(faults))
	for name := range faults {
		names = append(names, name)
	}
	slices.Sort(names)
	for n := range count {
		if n%10 == 0 && len(c.coats) < 20 {
			c.coat()
		}
		name := names[c.IntN(len(names))]
		c.actions[name]++
		faults[name]()
		time.Sleep(time.Duration(c.IntN(120)) * time.Millisecond)
	}
	c.heal()
	c.hub.kill()
	c.check()
	var b bytes.Buffer
	for _, name := range names {
		fmt.Fprintf(&b, "%d × %s; ", c.actions[name], name)
	}
	t.Logf("%s%d messages at the phone's service", b.String(), c.actions["phone fails"])
}
