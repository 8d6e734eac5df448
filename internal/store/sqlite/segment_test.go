package sqlite

import (
	"errors"
	"hash/crc32"
	"testing"
	"time"

	"encoding/binary"

	"github.com/google/go-cmp/cmp"

	"recoat/internal/store"
	"recoat/sensors"
)

// FuzzDecodeSegment gives bodies their check sum, so that what is behind it is
// reached: what reads must be acceptable, and read back.
func FuzzDecodeSegment(f *testing.F) {
	channels := []sensors.Channel{{Quantity: sensors.AirTemperature}, {Quantity: sensors.AirHumidity}}
	find := func(layout int64) ([]sensors.Channel, error) {
		if layout < 0 {
			return nil, store.ErrDamaged
		}
		return channels[:min(layout, 2)], nil
	}
	k := blockOf(roundID(1, 256), "b1")
	var some []packed
	for n := range 5 {
		r := nightRound("bench", 255+n)
		r.Readings = r.Readings[:2]
		r.Readings[1].Quality = sensors.Quality(n)
		kept, err := store.Canonical("attic", []sensors.Round{r})
		if err != nil {
			f.Fatal(err)
		}
		some = append(some, packed{roundID(1, kept[0].Seq), 2, &kept[0]})
	}
	whole := encodeSegment(k.first, some)
	f.Add(whole[:len(whole)-checkBytes])
	f.Add([]byte{1, 1, 0})
	f.Add([]byte{1, 2, 0x3c, 0x3d})
	f.Fuzz(func(t *testing.T, body []byte) {
		data := binary.BigEndian.AppendUint32(body, crc32.Checksum(body, castagnoli()))
		rounds, err := decodeSegment(k, origin{"bench", "b1"}, data, find)
		if err != nil {
			if !errors.Is(err, store.ErrDamaged) {
				t.Fatal(err)
			}
			return
		}
		for i, p := range rounds {
			p.layout = int64(len(p.round.Readings))
			if rounds[i].layout = p.layout; p.id < k.first || p.id > k.last || i > 0 && p.id <= rounds[i-1].id {
				t.Fatalf("id %d of block %v", p.id, k)
			}
			if _, err := store.Canonical("attic", []sensors.Round{*p.round}); err != nil && p.round.Seq > 0 {
				t.Fatal(err)
			}
		}
		again, err := decodeSegment(k, origin{"bench", "b1"}, encodeSegment(k.first, rounds), find)
		if diff := cmp.Diff(rounds, again, cmp.AllowUnexported(packed{})); err != nil || diff != "" {
			t.Fatal(err, diff)
		}
	})
}

// Every bit of a segment counts: with any of them turned it is refused.
func TestATurnedBitIsNoticed(t *testing.T) {
	k := blockOf(roundID(1, 256), "b1")
	var some []packed
	for n := range 40 {
		r := nightRound("bench", 255+n)
		some = append(some, packed{roundID(1, uint64(256+n)), 1, &r})
	}
	data := encodeSegment(k.first, some)
	find := func(int64) ([]sensors.Channel, error) {
		return []sensors.Channel{some[0].round.Readings[0].Channel, some[0].round.Readings[1].Channel, some[0].round.Readings[2].Channel}, nil
	}
	if _, err := decodeSegment(k, origin{"bench", "b1"}, data, find); err != nil {
		t.Fatal(err)
	}
	for bit := range 8 * len(data) {
		data[bit/8] ^= 1 << (bit % 8)
		if _, err := decodeSegment(k, origin{"bench", "b1"}, data, find); !errors.Is(err, store.ErrDamaged) {
			t.Fatalf("bit %d turned: %v", bit, err)
		}
		data[bit/8] ^= 1 << (bit % 8)
	}
}

func segments(t *testing.T, s *Store) (segments, rows int) {
	t.Helper()
	if err := s.db.Read.QueryRow(`SELECT (SELECT count(*) FROM segment), (SELECT count(*) FROM round)`).Scan(&segments, &rows); err != nil {
		t.Fatal(err)
	}
	return segments, rows
}

// Rounds written one at a time, a hundred at a time or all at once end up alike,
// and a late or doubled one finds its place in a packed block.
func TestBlocksArePackedHoweverTheyCame(t *testing.T) {
	for _, at := range []int{1, 100, 3000} {
		s := openNew(t)
		for first := 0; first < 3000; first += at {
			var rounds []sensors.Round
			for n := first; n < first+at; n++ {
				if n != 700 {
					rounds = append(rounds, nightRound("bench", n))
				}
			}
			if err := s.Append(t.Context(), "attic", rounds); err != nil {
				t.Fatal(err)
			}
		}
		packed, rows := segments(t, s)
		if packed < 9 || rows > 3*256 {
			t.Errorf("%d at a time: %d segments, %d rows", at, packed, rows)
		}
		moved := nightRound("bench", 300)
		moved.Time = moved.Time.Add(time.Hour)
		if err := s.Append(t.Context(), "attic", []sensors.Round{nightRound("bench", 700), moved, nightRound("bench", 5)}); err != nil {
			t.Fatal(err)
		}
		if again, _ := segments(t, s); again != packed {
			t.Errorf("%d at a time: %d segments, then %d", at, packed, again)
		}
		if got := count(t, s); got != 3000 {
			t.Errorf("%d at a time: %d rounds", at, got)
		}
		if err := s.Check(t.Context()); err != nil {
			t.Error(err)
		}
	}
}

// A file of the first version is brought up, and its rows are packed as its
// boots go on.
func TestAFileOfRowsGoesOn(t *testing.T) {
	s := openNew(t)
	fillBy(t, s, 50, 200, "bench")
	if _, err := s.db.Write.Exec(`DROP TABLE segment; PRAGMA user_version = 1`); err != nil {
		t.Fatal(err)
	}
	path := s.db.Path
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	s = openAt(t, path)
	var rounds []sensors.Round
	for n := 200; n < 1200; n++ {
		rounds = append(rounds, nightRound("bench", n))
	}
	if err := s.Append(t.Context(), "attic", rounds); err != nil {
		t.Fatal(err)
	}
	if packed, rows := segments(t, s); packed == 0 || rows > 600 || count(t, s) != 1200 {
		t.Errorf("%d segments, %d rows, %d rounds", packed, rows, count(t, s))
	}
}

// The random check again with so many rounds of a boot that blocks are packed,
// against the twin in memory.
func TestPackedAgainstTheTwin(t *testing.T) {
	g := randomly(t)
	s, twin := openNew(t), store.NewMemory()
	for range 60 {
		var rounds []sensors.Round
		start := g.IntN(3000)
		for range 1 + g.IntN(80) {
			r := nightRound([]string{"bench", "door"}[g.IntN(2)], start+g.IntN(1200))
			if g.IntN(3) == 0 {
				r.Time = r.Time.Add(time.Duration(g.IntN(5)) * time.Hour)
			}
			r.ClockSet = g.IntN(4) > 0
			if g.IntN(5) == 0 {
				r.Boot = ""
			}
			r.Readings = r.Readings[:1+g.IntN(3)]
			rounds = append(rounds, r)
		}
		for _, r := range []store.Readings{s, twin} {
			if err := r.Append(t.Context(), "attic", rounds); err != nil {
				t.Fatal(err)
			}
		}
	}
	q := store.Query{Room: "attic", From: dusk.AddDate(0, 0, -1), To: dusk.AddDate(0, 0, 1)}
	got, err1 := store.All(t.Context(), s, q)
	want, err2 := store.All(t.Context(), twin, q)
	if err := errors.Join(err1, err2); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Fatal(diff)
	}
	if diff := cmp.Diff(summary(t, twin, q.From, q.To), summary(t, s, q.From, q.To)); diff != "" {
		t.Fatal(diff)
	}
	if packed, _ := segments(t, s); packed == 0 {
		t.Error("nothing was packed: the test says nothing")
	}
}
