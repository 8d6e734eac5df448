package influx

import (
	"path/filepath"
	"testing"
	"time"

	"recoat/internal/store"
	"recoat/internal/store/sqlite"
	"recoat/sensors"
)

// History goes to the server and comes back as it was.
func TestCopyThereAndBack(t *testing.T) {
	at := startServer(t)
	file := func() *sqlite.Store {
		s, err := sqlite.Open(t.Context(), filepath.Join(t.TempDir(), "readings.db"))
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = s.Close() })
		return s
	}
	first, last, server := file(), file(), openAt(t, at.config(t))
	const n = 9000
	var rounds []sensors.Round
	for i := 1; i <= n; i++ {
		r := numbered(i)
		r.Readings[0].Value = float64(i%40) / 8
		rounds = append(rounds, r)
	}
	if err := first.Append(t.Context(), "attic", rounds); err != nil {
		t.Fatal(err)
	}
	quiet := func(float64, time.Time) {}
	if c, err := store.Copy(t.Context(), first, server, quiet); err != nil || c.Rounds != n {
		t.Fatalf("to the server: %+v, %v", c, err)
	}
	if c, err := store.Copy(t.Context(), server, last, quiet); err != nil || c.Rounds != n {
		t.Fatalf("and back: %+v, %v", c, err)
	}
	if c, err := store.Copy(t.Context(), last, first, quiet); err != nil || c.Rounds != n {
		t.Fatalf("and what came back, over what was sent: %+v, %v", c, err)
	}
}
