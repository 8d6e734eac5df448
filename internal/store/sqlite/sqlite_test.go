package sqlite

import (
	"path/filepath"
	"testing"

	"recoat/internal/store"
	"recoat/internal/store/storetest"
)

func openAt(t *testing.T, path string) *Store {
	t.Helper()
	s, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	return s
}

func openNew(t *testing.T) *Store {
	t.Helper()
	return openAt(t, filepath.Join(t.TempDir(), "readings.db"))
}

func TestContract(t *testing.T) {
	storetest.Run(t, func(t *testing.T) store.Readings { return openNew(t) })
}

func TestDurable(t *testing.T) {
	storetest.Durable(t, func(t *testing.T, folder string) (store.Readings, func() error) {
		s := openAt(t, filepath.Join(folder, "readings.db"))
		return s, s.Close
	})
}
