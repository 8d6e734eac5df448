package sqlite

import (
	"bytes"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"recoat/internal/sqldb"
	"recoat/internal/store"
	"recoat/sensors"
)

const pageSize = 4096

// sound returns the bytes of a closed file with some hours of readings.
func sound(t *testing.T) []byte {
	t.Helper()
	path := filepath.Join(t.TempDir(), "readings.db")
	s := openAt(t, path)
	fill(t, s, 3000, "bench", "door")
	if _, err := s.db.Write.Exec(`VACUUM`); err != nil { // a page that nothing is on has nothing to damage
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	content, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return content
}

// use opens content as a file and does all there is to do with it. It returns
// what Open and Check said.
func use(t *testing.T, content []byte) error {
	t.Helper()
	path := filepath.Join(t.TempDir(), "readings.db")
	if err := os.WriteFile(path, content, 0o600); err != nil {
		t.Fatal(err)
	}
	s, err := Open(t.Context(), path)
	if err != nil {
		return err
	}
	defer s.Close()
	found := s.Check(t.Context())
	from, to := dusk.AddDate(-1, 0, 0), dusk.AddDate(1, 0, 0)
	of := store.Series{Room: "attic", Node: "bench", Channel: sensors.Channel{Quantity: sensors.AirTemperature}}
	_, rollups := s.Rollups(t.Context(), of, time.Hour, from, to)
	_, extents := s.Extents(t.Context())
	rounds := s.Rounds(t.Context(), store.Query{Room: "attic", From: from, To: to}, func(sensors.Round) error { return nil })
	added := s.Append(t.Context(), "attic", one(5000))
	if err := errors.Join(rollups, extents, rounds, added); err != nil && found == nil {
		t.Errorf("the check found nothing, yet: %v", err)
	}
	return found
}

func TestDamageIsFoundAndNamed(t *testing.T) {
	good := sound(t)
	if err := use(t, good); err != nil {
		t.Fatalf("the sound file: %v", err)
	}
	g := rand.New(rand.NewPCG(1, 2))
	noise := make([]byte, len(good))
	for i := range noise {
		noise[i] = byte(g.Uint32())
	}
	cases := map[string][]byte{
		"all zeros":       make([]byte, len(good)),
		"noise":           noise,
		"cut in half":     good[:len(good)/2/pageSize*pageSize],
		"cut in a page":   good[:len(good)/2+100],
		"header overrun":  append(bytes.Repeat([]byte{0xa5}, 100), good[100:]...),
		"not ours at all": []byte(strings.Repeat("time,air_c,rh_pct\n", 300)),
	}
	for _, page := range g.Perm(len(good) / pageSize)[:25] {
		hit := bytes.Clone(good)
		copy(hit[page*pageSize:], bytes.Repeat([]byte{0xa5}, pageSize))
		cases[fmt.Sprintf("page %d overwritten", page+1)] = hit
	}
	for name, content := range cases {
		if err := use(t, content); !errors.Is(err, store.ErrDamaged) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestForeignFileIsRefused(t *testing.T) {
	path := filepath.Join(t.TempDir(), "journal.db")
	db, err := sqldb.Open(t.Context(), path, sqldb.Schema{ApplicationID: 0x1234, Migrations: []string{`CREATE TABLE jar(ml INTEGER)`}})
	if err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(t.Context(), path); !errors.Is(err, sqldb.ErrForeign) {
		t.Fatal(err)
	}
}

func TestDamagedRowsAreNamed(t *testing.T) {
	for name, harm := range map[string]string{
		"empty data":       `UPDATE round SET data = x'' WHERE id & 1023 = 3`,
		"unknown flags":    `UPDATE round SET data = x'ff' WHERE id & 1023 = 3`,
		"no layout":        `UPDATE round SET data = x'01' WHERE id & 1023 = 3`,
		"lost layout":      `UPDATE round SET data = x'016300' WHERE id & 1023 = 3`,
		"no uptime":        `UPDATE round SET data = x'0101' WHERE id & 1023 = 3`,
		"a value missing":  `UPDATE round SET data = x'010100' WHERE id & 1023 = 3`,
		"a value too many": `UPDATE round SET data = x'01010002020202' WHERE id & 1023 = 3`,
		"bad quality":      `UPDATE round SET data = x'03010009' WHERE id & 1023 = 3`,
		"endless varint":   `UPDATE round SET data = x'010100ffffffffffffffffffffff' WHERE id & 1023 = 3`,
		"bad layout":       `UPDATE layout SET channels = 'air-temperature colour'`,
	} {
		s := openNew(t)
		fill(t, s, 10, "bench")
		if _, err := s.db.Write.Exec(harm); err != nil {
			t.Fatal(err)
		}
		err := s.Rounds(t.Context(), store.Query{Room: "attic", From: dusk, To: dusk.AddDate(0, 0, 1)}, func(sensors.Round) error { return nil })
		if !errors.Is(err, store.ErrDamaged) {
			t.Errorf("%s, reading: %v", name, err)
		}
		corrected := nightRound("bench", 2)
		corrected.Time = corrected.Time.Add(time.Hour)
		if err := s.Append(t.Context(), "attic", []sensors.Round{corrected}); !errors.Is(err, store.ErrDamaged) {
			t.Errorf("%s, replacing: %v", name, err)
		}
		if err := s.Append(t.Context(), "attic", []sensors.Round{nightRound("door", 0)}); err != nil {
			t.Errorf("%s, another node: %v", name, err)
		}
	}
}

// TestFull lets the file grow no further, as a full disk does, and then lets
// it grow again.
func TestFull(t *testing.T) {
	s := openNew(t)
	stored := fillUp(t, s, func() {
		if _, err := s.db.Write.Exec(`PRAGMA max_page_count = 60`); err != nil {
			t.Fatal(err)
		}
	})
	if got := count(t, s); got != stored {
		t.Errorf("%d rounds kept of %d acknowledged", got, stored)
	}
	if _, err := s.db.Write.Exec(`PRAGMA max_page_count = 100000`); err != nil {
		t.Fatal(err)
	}
	resume(t, s, stored)
}

// fillUp appends until there is no room and returns how many rounds were
// acknowledged.
func fillUp(t *testing.T, s *Store, limit func()) int {
	t.Helper()
	limit()
	for n := 0; n < 100000; n += 50 {
		var rounds []sensors.Round
		for i := range 50 {
			rounds = append(rounds, nightRound("bench", n+i))
		}
		err := s.Append(t.Context(), "attic", rounds)
		if err == nil {
			continue
		}
		if !errors.Is(err, store.ErrFull) || n == 0 {
			t.Fatalf("after %d rounds: %v", n, err)
		}
		return n
	}
	t.Fatal("the limit was never reached")
	return 0
}

func resume(t *testing.T, s *Store, stored int) {
	t.Helper()
	for n := range 200 {
		if err := s.Append(t.Context(), "attic", one(stored+n)); err != nil {
			t.Fatalf("with room again: %v", err)
		}
	}
	if err := s.Check(t.Context()); err != nil {
		t.Fatal(err)
	}
	if got := count(t, s); got != stored+200 {
		t.Fatalf("%d rounds kept of %d", got, stored+200)
	}
}
