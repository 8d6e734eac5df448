package alert

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"sync/atomic"
	"testing"
	"time"

	"go.uber.org/goleak"
)

// The variables that make this test binary a hub to be killed.
const (
	childFile    = "ALERT_TEST_OUTBOX"
	childAddress = "ALERT_TEST_ADDRESS"
	childSubject = "ALERT_TEST_SUBJECT" // empty: only catch up
)

func TestMain(m *testing.M) {
	if path := os.Getenv(childFile); path != "" {
		if err := child(context.Background(), path, os.Getenv(childAddress), os.Getenv(childSubject)); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	goleak.VerifyTestMain(m)
}

// child is a small hub: it sends what an earlier one left, says so, waits for a
// line on its input, decides one thing more, and lives on until it is killed.
func child(ctx context.Context, path, address, subject string) error {
	channel, err := ParseChannel(address)
	if err != nil {
		return err
	}
	o, err := OpenOutbox(ctx, path)
	if err != nil {
		return err
	}
	defer func() { _ = o.Close() }()
	episodes, err := o.Episodes(ctx, 0)
	if err != nil {
		return err
	}
	engine := NewEngine(EngineConfig{Resume: episodes, NewID: func() string { return "episode " + subject }})
	courier, err := NewCourier(CourierConfig{Outbox: o, Channels: []Channel{channel},
		Log: slog.New(slog.NewTextHandler(os.Stderr, nil)), Now: time.Now, Jitter: rand.Float64})
	if err != nil {
		return err
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	ended := make(chan error, 1)
	go func() { ended <- courier.Run(ctx) }()
	if err := awaitAllSent(ctx, o); err != nil {
		return err
	}
	fmt.Println("caught up")
	if subject == "" {
		cancel()
		return <-ended
	}
	if _, err := bufio.NewReader(os.Stdin).ReadString('\n'); err != nil {
		return err
	}
	ready := Finding{Key: Key{"ready", "back-room", subject}, Condition: True, Title: "ready", Once: true}
	decided := engine.Step(Instant{Wall: time.Now()}, []Finding{ready})
	if err := o.Commit(ctx, decided, Compose(decided, []string{channel.Name()})); err != nil {
		return err
	}
	return <-ended // a kill comes first
}

func awaitAllSent(ctx context.Context, o *Outbox) error {
	for {
		var open int
		if err := o.db.Read.QueryRowContext(ctx, `SELECT count(*) FROM message WHERE status<>?`, Sent).Scan(&open); err != nil {
			return err
		}
		if open == 0 {
			return nil
		}
		time.Sleep(2 * time.Millisecond)
	}
}

// When a child is killed.
const (
	killAtRandom = iota // some time after the child begins to decide
	killOnArrival
	killOnAnswer
	killers
)

// TestNothingIsLostToKills kills a hub 200 times between its decision and the
// record of what became of it.
func TestNothingIsLostToKills(t *testing.T) {
	const lanes = 2
	kills := 200
	if testing.Short() {
		kills = 20
	}
	for lane := range lanes {
		t.Run(fmt.Sprint(lane), func(t *testing.T) {
			t.Parallel()
			killLane(t, kills/lanes)
		})
	}
}

func killLane(t *testing.T, kills int) {
	seed := rand.Uint64()
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 3))
	path := filepath.Join(t.TempDir(), "outbox.db")
	var onArrival, onAnswer atomic.Pointer[os.Process]
	s := newSink(t, func(w http.ResponseWriter, r *http.Request) {
		if p := onArrival.Swap(nil); p != nil {
			_ = p.Kill()
			<-r.Context().Done() // it never hears an answer
			return
		}
		w.WriteHeader(http.StatusOK)
		_ = http.NewResponseController(w).Flush()
		if p := onAnswer.Swap(nil); p != nil {
			_ = p.Kill()
		}
	})
	arrivals := 0
	for i := range kills {
		c := startChild(t, path, s.URL, fmt.Sprint(i))
		switch i % killers {
		case killOnArrival:
			arrivals++
			onArrival.Store(c.cmd.Process)
		case killOnAnswer:
			onAnswer.Store(c.cmd.Process)
		}
		_, err := io.WriteString(c.in, "decide\n")
		must(t, err)
		if i%killers == killAtRandom {
			time.Sleep(time.Duration(random.Int64N(int64(4 * time.Millisecond))))
			_ = c.cmd.Process.Kill()
		}
		_ = c.cmd.Wait() // says that it was killed
	}
	must(t, startChild(t, path, s.URL, "").cmd.Wait())
	checkDeliveries(t, path, s, kills, arrivals)
}

// hub is a child that has caught up.
type hub struct {
	cmd *exec.Cmd
	in  io.Writer
}

func startChild(t *testing.T, path, address, subject string) hub {
	t.Helper()
	self, err := os.Executable()
	must(t, err)
	cmd := exec.CommandContext(t.Context(), self)
	cmd.Env = append(os.Environ(), childFile+"="+path, childAddress+"="+address, childSubject+"="+subject)
	cmd.Stderr = os.Stderr
	in, err := cmd.StdinPipe()
	must(t, err)
	out, err := cmd.StdoutPipe()
	must(t, err)
	must(t, cmd.Start())
	if line, err := bufio.NewReader(out).ReadString('\n'); line != "caught up\n" {
		t.Fatalf("the child says %q, %v", line, err)
	}
	return hub{cmd, in}
}

// checkDeliveries holds what the sink saw against what was decided.
func checkDeliveries(t *testing.T, path string, s *sink, kills, arrivals int) {
	t.Helper()
	seen, keys := map[string]int{}, map[string]string{}
	for _, d := range s.deliveries() {
		episode, _ := d.body["episode"].(string)
		seen[episode]++
		key := d.header.Get("Idempotency-Key")
		if keys[episode] == "" {
			keys[episode] = key
		}
		if key != keys[episode] {
			t.Errorf("%s has two keys: %s and %s", episode, key, keys[episode])
		}
	}
	episodes, err := openOutbox(t, path).Episodes(t.Context(), 0)
	must(t, err)
	twice := 0
	for _, e := range episodes {
		switch seen[e.ID] {
		case 1:
		case 2:
			twice++
		default:
			t.Errorf("%s arrived %d times", e.ID, seen[e.ID])
		}
	}
	if len(seen) > len(episodes) {
		t.Errorf("%d told of, but only %d decided", len(seen), len(episodes))
	}
	// Without these the test would prove nothing.
	if twice < arrivals || len(episodes) < 2*(kills/killers) {
		t.Errorf("%d kills: %d episodes, %d sent twice; %d were killed while sending", kills, len(episodes), twice, arrivals)
	}
	t.Logf("%d kills: %d episodes decided, %d sent twice", kills, len(episodes), twice)
}
