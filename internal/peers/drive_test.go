package peers

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"
)

// The windows that are tried: how far the publishers may be ahead of what is
// durable, all together. Each side is judged by its best.
var windows = []int{200, 1000, 5000}

const chainMessages = 10000 // of a run

// way is one way to drive the chains, with the rates of its runs and what they
// took of the processor, by chain.
type way struct {
	publishers, window int
	rates, micros      [2][]float64
}

// TestChain measures one round a message, at QoS 1, until it is durable: from
// one publisher and from sixteen, the chains in turn, so that what else the
// machine does strikes both.
func TestChain(t *testing.T) {
	if os.Getenv(peersVariable) == "" {
		t.Skip("measuring takes minutes: make peers asks for it")
	}
	chains := [2]chain{ownChain(t), peerChain(t)}
	whole := wholeShop(t)
	time.Sleep(20 * time.Second)
	idle := []float64{chains[0].memory(), chains[1].memory(), float64(whole.memory()) / (1 << 20)}
	whole.stop()
	drives := [2]*drive{newDrive(t, chains[0]), newDrive(t, chains[1])}
	var all []way
	for _, publishers := range []int{1, nodes} {
		for _, window := range windows {
			w := way{publishers: publishers, window: window}
			for range parts {
				for i, d := range drives {
					rate, micros := d.once(t, publishers, window)
					w.rates[i], w.micros[i] = append(w.rates[i], rate), append(w.micros[i], micros)
				}
			}
			all = append(all, w)
		}
	}
	for _, d := range drives {
		d.agree(t)
	}
	showChains(chains, all, idle)
}

// wholeShop starts the program as people run it: with a simulated room, its agent
// and the pages besides.
func wholeShop(t *testing.T) *server {
	folder, at := t.TempDir(), port(t)
	binary := filepath.Join(folder, "recoat")
	build := exec.CommandContext(t.Context(), "go", "build", "-trimpath", "-tags", "nethttpomithttp2", "-ldflags", "-s -w", "-o", binary, "recoat/cmd/recoat")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	conf := filepath.Join(folder, "recoat.toml")
	if err := os.WriteFile(conf, fmt.Appendf(nil, "[pages]\nlisten = %q\n[data]\nfolder = %q\n", at, filepath.Join(folder, "data")), 0o600); err != nil {
		t.Fatal(err)
	}
	return up(t, &server{path: binary, args: []string{"up", "--simulate", "--config", conf}, url: "http://" + at})
}

// drive is a chain with its publishers and how many rounds each has sent.
type drive struct {
	chain
	publishers []*publisher
	sent       []int
}

func newDrive(t *testing.T, c chain) *drive {
	d := &drive{chain: c, sent: make([]int, nodes)}
	for n := range nodes {
		d.publishers = append(d.publishers, dialPublisher(t, c.broker, fmt.Sprint("publisher-", n), chainNode(n), c.topic(n)))
	}
	d.once(t, 1, windows[1]) // warms up
	return d
}

// once sends a run's messages and returns how many a second became durable, and
// the processor's time for each in µs.
func (d *drive) once(t *testing.T, publishers, window int) (rate, micros float64) {
	payloads := make([][][]byte, publishers)
	for n := range payloads {
		for range chainMessages / publishers {
			payloads[n] = append(payloads[n], d.payload(n, d.sent[n]))
			d.sent[n]++
		}
	}
	busy := d.processor()
	took, err := d.send(d.publishers[:publishers], payloads, window)
	if err != nil {
		t.Fatalf("%s, %d publishers, window %d: %v", d.name, publishers, window, err)
	}
	n := float64(publishers * len(payloads[0]))
	return n / took.Seconds(), float64((d.processor() - busy).Microseconds()) / n
}

// agree asks the store itself whether all is there.
func (d *drive) agree(t *testing.T) {
	sent := 0
	for _, n := range d.sent {
		sent += n
	}
	if got := d.exact(); got != sent {
		t.Errorf("%s holds %d of %d rounds", d.name, got, sent)
	}
}

func showChains(chains [2]chain, all []way, idle []float64) {
	fmt.Printf("\nOne round a message, QoS 1, until durable; medians of %d runs of %d, lowest and highest in brackets.\n", parts, chainMessages)
	fmt.Printf("| publishers | window | %s, rounds/s | µs of the processor for each | %s, rounds/s | µs |\n|---|---|---|---|---|---|\n", chains[0].name, chains[1].name)
	best := map[int][2]float64{}
	for _, w := range all {
		fmt.Printf("| %d | %d |", w.publishers, w.window)
		b := best[w.publishers]
		for i := range chains {
			m, spread := median(w.rates[i])
			micros, _ := median(w.micros[i])
			fmt.Printf(" %.0f (%.0f–%.0f) | %.0f |", m, spread[0], spread[1], micros)
			b[i] = max(b[i], m)
		}
		best[w.publishers] = b
		fmt.Println()
	}
	for _, publishers := range []int{1, nodes} {
		b := best[publishers]
		require(fmt.Sprintf("durable rounds/s from %d publishers, %.0f to %.0f", publishers, b[0], b[1]), b[0]/b[1], atLeast, 2.5)
	}
	fmt.Printf("MiB resident: %s %.0f idle and %.0f after the runs, the whole program with a simulated room and its pages %.0f idle, %s %.0f idle and %.0f after the runs\n",
		chains[0].name, idle[0], chains[0].memory(), idle[2], chains[1].name, idle[1], chains[1].memory())
	require("idle memory, our chain to theirs", idle[0]/idle[1], atMost, 1.0/3)
	require("idle memory, the whole program to their chain", idle[2]/idle[1], atMost, 1.0/3)
}
