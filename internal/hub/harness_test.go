package hub

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"recoat/internal/alert"
	"recoat/internal/room"
	"recoat/internal/shop"
	"recoat/internal/store"
	"recoat/internal/store/calibrated"
	"recoat/internal/telemetry"
	"recoat/sensors"
	"recoat/sensors/calibration"
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
recoat = "20m"
handle = "30d"
cure = "60d"
`

var errDown = errors.New("out of order")

// switched fails while it is switched off.
type switched struct {
	mu  sync.Mutex
	off bool
}

func (s *switched) set(off bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.off = off
}

func (s *switched) err() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.off {
		return errDown
	}
	return nil
}

// readings, decisions and journal are the real ones behind a switch.
type readings struct {
	store.Readings
	switched
	blind switched // fails only when rounds are read
}

func (r *readings) Rounds(ctx context.Context, q store.Query, each func(sensors.Round) error) error {
	if err := r.blind.err(); err != nil {
		return err
	}
	return r.Readings.Rounds(ctx, q, each)
}

func (r *readings) Append(ctx context.Context, room string, rounds []sensors.Round) error {
	if err := r.err(); err != nil {
		return err
	}
	return r.Readings.Append(ctx, room, rounds)
}

type recorder struct {
	*alert.Outbox
	switched
}

func (d *recorder) Commit(ctx context.Context, transitions []alert.Transition, messages []alert.Message) error {
	if err := d.err(); err != nil {
		return err
	}
	return d.Outbox.Commit(ctx, transitions, messages)
}

type journal struct {
	*shop.Journal
	switched
}

func (j *journal) OpenCoats(ctx context.Context, room string) ([]shop.Coat, error) {
	if err := j.err(); err != nil {
		return nil, err
	}
	return j.Journal.OpenCoats(ctx, room)
}

// bench is a hub with its files, in a bubble of time of its own.
type bench struct {
	*testing.T
	folder    string
	readings  *readings
	decisions *recorder
	journal   *journal
	hub       *Hub
	ids       int
	watch     Watch
	stop      func()
}

// evening is when the tests begin.
var evening = time.Date(2026, 3, 1, 18, 0, 0, 0, time.UTC)

// inBubble runs a test with a hub that has come up.
func inBubble(t *testing.T, test func(b *bench)) {
	t.Helper()
	folder := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		b := &bench{T: t, folder: folder, readings: &readings{Readings: store.NewMemory()}}
		time.Sleep(time.Until(evening)) // a bubble begins in 2000, before which no coat is taken
		b.start()
		t.Cleanup(func() { b.stop() })
		test(b)
	})
}

// start opens the files and runs a hub on them until stop.
func (b *bench) start() {
	b.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	outbox, err := alert.OpenOutbox(ctx, filepath.Join(b.folder, "outbox.db"))
	if err != nil {
		b.Fatal(err)
	}
	j, err := shop.OpenJournal(ctx, filepath.Join(b.folder, "journal.db"))
	if err != nil {
		b.Fatal(err)
	}
	b.decisions, b.journal = &recorder{Outbox: outbox}, &journal{Journal: j}
	began := time.Now()
	book := &calibration.Book{}
	b.hub = New(Options{
		Readings: calibrated.New(b.readings, book), Checks: b.journal, Book: book,
		Journal: b.journal, Decisions: b.decisions, Channels: []string{"phone"}, Watch: b.watch, Workpieces: j,
		NewID: func() string { b.ids++; return fmt.Sprintf("e%d", b.ids) },
		Now:   func() alert.Instant { return alert.Instant{Wall: time.Now(), Mono: time.Since(began)} },
		Log:   slog.New(slog.NewTextHandler(b.Output(), nil)),
	})
	ended := make(chan error, 1)
	go func() { ended <- b.hub.Run(ctx) }()
	<-b.hub.Ready()
	b.stop = sync.OnceFunc(func() {
		cancel()
		if err := <-ended; err != nil {
			b.Errorf("the hub ended with %v", err)
		}
		if err := errors.Join(outbox.Close(), j.Close()); err != nil {
			b.Error(err)
		}
	})
}

// receipt counts how often a delivery was acknowledged.
type receipt struct {
	mu sync.Mutex
	n  int
}

func (r *receipt) count() int {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.n
}

// deliver hands rounds over as the receiver does. It is an error to acknowledge
// one that the store does not hold.
func (b *bench) deliver(name string, rounds ...sensors.Round) *receipt {
	b.Helper()
	r := &receipt{}
	b.hub.Deliver(telemetry.Delivery{Room: name, Node: rounds[0].Node, Rounds: rounds, Stored: func() {
		for _, round := range rounds {
			if _, ok := b.held(name, round.Boot, round.Seq); !ok {
				b.Errorf("round %d was acknowledged before it was stored", round.Seq)
			}
		}
		r.mu.Lock()
		defer r.mu.Unlock()
		r.n++
	}})
	return r
}

// held is a round as the store has it.
func (b *bench) held(name, boot string, seq uint64) (held sensors.Round, ok bool) {
	q := store.Query{Room: name, From: time.Unix(0, 0), To: time.Unix(1<<32, 0)}
	err := b.readings.Rounds(context.Background(), q, func(r sensors.Round) error {
		if r.Boot == boot && r.Seq == seq {
			held, ok = r, true
		}
		return nil
	})
	if err != nil {
		b.Error(err)
	}
	return held, ok
}

// round is a round of the node "bench" taken now.
func round(seq uint64, air, rh float64) sensors.Round {
	return sensors.Round{
		Node: "bench", Boot: "b1", Seq: seq, ClockSet: true, Time: time.Now(), Uptime: time.Duration(seq) * time.Second,
		Readings: []sensors.Reading{
			{Channel: sensors.Channel{Quantity: sensors.AirTemperature}, Value: air},
			{Channel: sensors.Channel{Quantity: sensors.AirHumidity}, Value: rh},
		},
	}
}

// minutes delivers one round a minute.
func (b *bench) minutes(n int, first uint64, air, rh float64) {
	b.Helper()
	for i := range n {
		b.deliver("back-room", round(first+uint64(i), air, rh))
		time.Sleep(time.Minute)
	}
}

// room returns one room's snapshot.
func (b *bench) room(id string) room.Snapshot {
	b.Helper()
	for _, s := range b.hub.Snapshots() {
		if s.Room == id {
			return s
		}
	}
	b.Fatalf("there is no room %s", id)
	return room.Snapshot{}
}

// furnish adds the room, a product and a table with a top and a leg to the
// journal, and returns the ids of the parts.
func (b *bench) furnish() (top, leg string) {
	b.Helper()
	now := time.Now()
	if err := b.journal.AddRoom(b.Context(), shop.Room{ID: "back-room", Title: "Back room"}, now); err != nil {
		b.Fatal(err)
	}
	label, err := shop.LoadProduct(strings.NewReader(quick), "quick")
	if err != nil {
		b.Fatal(err)
	}
	if _, err := b.journal.PutProduct(b.Context(), label, now); err != nil {
		b.Fatal(err)
	}
	piece, err := b.journal.AddPiece(b.Context(), shop.Piece{Name: "Hall table", Parts: []shop.Part{
		{Name: "top", Room: "back-room"}, {Name: "leg", Room: "back-room"},
	}}, now)
	if err != nil {
		b.Fatal(err)
	}
	return piece.Parts[0].ID, piece.Parts[1].ID
}

// apply puts a coat on a part, so long ago.
func (b *bench) apply(part string, ago time.Duration) shop.Coat {
	b.Helper()
	now := time.Now()
	c, err := b.journal.ApplyCoat(b.Context(), shop.Application{Part: part, Product: "f-0001", Applied: now.Add(-ago), Film: 100}, now)
	if err != nil {
		b.Fatal(err)
	}
	synctest.Wait()
	return c
}

// told lists what was recorded for the phone, oldest first.
func (b *bench) told() []string {
	b.Helper()
	messages, err := b.decisions.Messages(context.Background(), 100)
	if err != nil {
		b.Fatal(err)
	}
	var all []string
	for i := len(messages) - 1; i >= 0; i-- {
		m := messages[i]
		all = append(all, m.Key.Rule+" "+m.Key.Subject+" "+m.Cause.String())
	}
	return all
}
