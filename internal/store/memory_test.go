package store_test

import (
	"testing"

	"recoat/internal/store"
	"recoat/internal/store/storetest"
)

func TestMemory(t *testing.T) {
	storetest.Run(t, func(*testing.T) store.Readings { return store.NewMemory() })
}
