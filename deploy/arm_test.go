package deploy

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"
)

// A board, and what runs its programs here.
type board struct{ name, program, emulator string }

var boards = []board{
	{"armv6", "../build/armhf/recoat", "qemu-arm-static"},
	{"armv7", "../build/armv7/recoat", "qemu-arm-static"},
	{"arm64", "../build/arm64/recoat", "qemu-aarch64-static"},
}

// The simulated evening on which the demo's coats go on, and the next morning.
var night = []string{"2026-01-30T18:00:00Z", "2026-01-31T07:00:00Z"}

// command runs recoat as that board would.
func (b board) command(ctx context.Context, args ...string) *exec.Cmd {
	c := exec.CommandContext(ctx, b.program, args...)
	if b.emulator != "" {
		c = exec.CommandContext(ctx, b.emulator, append([]string{b.program}, args...)...)
	}
	c.Cancel = func() error { return c.Process.Signal(syscall.SIGTERM) }
	c.Env = append(os.Environ(), "TZ=UTC")
	return c
}

// A simulated night, from the registers of emulated chips to the times at which
// each coat is ready, comes out the same to the second on every board: they
// round the last digit of a number differently, and some fuse a multiplication
// with an addition.
func TestANightIsTheSameOnEveryBoard(t *testing.T) {
	if testing.Short() {
		t.Skip("minutes under emulation")
	}
	here := board{name: "amd64", program: "../build/amd64/recoat"}
	for _, b := range append(boards, here) {
		if _, err := os.Stat(b.program); err != nil {
			t.Skipf("%s is not built: make arm builds it and tries it", b.program)
		}
		if b.emulator != "" {
			need(t, b.emulator, "recoat on ARM")
		}
	}
	want := here.night(t)
	stages := 0
	for _, at := range night {
		stages += countStages(want[at])
	}
	if stages < 8 {
		t.Fatalf("%d stages on amd64: nothing to compare", stages)
	}
	for _, b := range boards {
		t.Run(b.name, func(t *testing.T) {
			t.Parallel()
			got := b.night(t)
			for _, at := range night {
				compare(t, at, want[at], got[at])
			}
			t.Logf("%s: %d stage times as on amd64", b.name, stages)
		})
	}
}

// night runs everything in one process twice on one data folder, and returns
// what it says of the rooms once it has settled.
func (b board) night(t *testing.T) map[string]any {
	t.Helper()
	folder := t.TempDir()
	config := filepath.Join(folder, "recoat.toml")
	if err := os.WriteFile(config, fmt.Appendf(nil, "[pages]\nlisten = \"127.0.0.1:0\"\n[data]\nfolder = %q\n", folder+"/data"), 0o600); err != nil {
		t.Fatal(err)
	}
	all := map[string]any{}
	for _, at := range night {
		ctx, stop := context.WithTimeout(t.Context(), 5*time.Minute)
		c := b.command(ctx, "up", "--simulate", "--as-of", at, "--config", config)
		out, err := c.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		all[at] = settled(t, address(t, out), at)
		stop()
		if err := c.Wait(); err != nil && c.ProcessState.ExitCode() != 0 {
			t.Errorf("%s ended with %v", b.name, err)
		}
	}
	return all
}

var pagesAddress = regexp.MustCompile(`http://\S+`)

func address(t *testing.T, out io.Reader) string {
	t.Helper()
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if url := pagesAddress.FindString(lines.Text()); url != "" {
			go func() { _, _ = io.Copy(io.Discard, out) }()
			return url
		}
	}
	t.Fatal("ended without an address")
	return ""
}

// settled asks until the answer is of the instant at which the clock stands and
// has not changed for a while: all that was sampled has arrived.
func settled(t *testing.T, url, at string) any {
	t.Helper()
	client := &http.Client{Timeout: time.Minute}
	last, same := "", 0
	for end := time.Now().Add(4 * time.Minute); time.Now().Before(end); time.Sleep(time.Second) {
		r, err := client.Get(url + "api/rooms")
		if err != nil {
			continue
		}
		text, err := io.ReadAll(r.Body)
		_ = r.Body.Close()
		if err != nil {
			continue
		}
		if string(text) != last {
			last, same = string(text), 0
			continue
		}
		if same++; same >= 8 && strings.Contains(last, `"read_at":"`+at+`"`) {
			var v any
			if err := json.Unmarshal(text, &v); err != nil {
				t.Fatal(err)
			}
			return v
		}
	}
	t.Fatalf("not settled after four minutes: %.300s", last)
	return nil
}

// compare holds every number to a millionth of itself and every word and time,
// which are written to the second, exactly. Alerts are left out: they tell of
// when the process ran.
func compare(t *testing.T, where string, want, got any) {
	t.Helper()
	switch w := want.(type) {
	case map[string]any:
		g, ok := got.(map[string]any)
		if !ok || len(w) != len(g) {
			t.Errorf("%s: %v, want %v", where, got, want)
			return
		}
		for key := range w {
			if key != "alerts" {
				compare(t, where+"."+key, w[key], g[key])
			}
		}
	case []any:
		g, ok := got.([]any)
		if !ok || len(w) != len(g) {
			t.Errorf("%s: %v, want %v", where, got, want)
			return
		}
		for i := range w {
			compare(t, fmt.Sprintf("%s[%d]", where, i), w[i], g[i])
		}
	case float64:
		if g, ok := got.(float64); !ok || math.Abs(g-w) > 1e-6*max(1, math.Abs(w)) {
			t.Errorf("%s: %v, want %v", where, got, want)
		}
	case string:
		if !sameText(w, got) {
			t.Errorf("%s: %v, want %v", where, got, want)
		}
	default:
		if got != want {
			t.Errorf("%s: %v, want %v", where, got, want)
		}
	}
}

// sameText compares times by their second and all else by every letter.
func sameText(want string, got any) bool {
	g, ok := got.(string)
	if !ok {
		return false
	}
	w, errW := time.Parse(time.RFC3339Nano, want)
	h, errG := time.Parse(time.RFC3339Nano, g)
	if errW == nil && errG == nil {
		return w.Truncate(time.Second).Equal(h.Truncate(time.Second))
	}
	return g == want
}

func countStages(v any) int {
	n := 0
	switch v := v.(type) {
	case map[string]any:
		if _, ok := v["ready_at"]; ok {
			n++
		}
		for _, child := range v {
			n += countStages(child)
		}
	case []any:
		for _, child := range v {
			n += countStages(child)
		}
	}
	return n
}

// What a label's page and a recorded night come to is the same on every board.
func TestTheCommandsAnswerTheSameOnEveryBoard(t *testing.T) {
	here := board{name: "amd64", program: "../build/amd64/recoat"}
	const product = "../testdata/products/quiet-harbour-colour.toml"
	for _, args := range [][]string{
		{"air", "--air", "12.3C", "--rh", "71.7", "--surface", "9.9C", "--json"},
		{"stages", "--product", product, "--air", "12C", "--rh", "75", "--surface", "11C", "--json"},
		{"replay", "--product", product, "--applied", "2026-01-30T18:00:00Z", "../testdata/rooms/simulated-back-room.csv", "--json"},
	} {
		for _, b := range boards {
			if _, err := os.Stat(b.program); err != nil {
				t.Skipf("%s is not built: make arm builds it and tries it", b.program)
			}
			need(t, b.emulator, "recoat on ARM")
			want, got := answer(t, here, args), answer(t, b, args)
			compare(t, b.name+" "+args[0], want, got)
		}
	}
}

func answer(t *testing.T, b board, args []string) any {
	t.Helper()
	out, err := b.command(t.Context(), args...).Output()
	if err != nil {
		t.Fatalf("%s %v: %v", b.name, args, err)
	}
	var v any
	if err := json.Unmarshal(out, &v); err != nil {
		t.Fatal(err)
	}
	return v
}
