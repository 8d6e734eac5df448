package storetest

import (
	"context"
	"errors"
	"math"
	"slices"
	"testing"
	"time"

	"recoat/internal/store"
	"recoat/sensors"
)

func checkRefusals(t *testing.T, r store.Readings) {
	fine := round("bench", "b1", 1, at(0), air(20))
	for name, spoil := range map[string]func(*sensors.Round){
		"no node":          func(x *sensors.Round) { x.Node = "" },
		"control in boot":  func(x *sensors.Round) { x.Boot = "b\x00" },
		"no seq":           func(x *sensors.Round) { x.Seq = 0 },
		"huge seq":         func(x *sensors.Round) { x.Seq = math.MaxUint64 },
		"no time":          func(x *sensors.Round) { x.Time = time.Time{} },
		"far future":       func(x *sensors.Round) { x.Time = dusk.AddDate(100, 0, 0) },
		"negative uptime":  func(x *sensors.Round) { x.Uptime = -1 },
		"not a number":     func(x *sensors.Round) { x.Readings[0].Value = math.NaN() },
		"infinite":         func(x *sensors.Round) { x.Readings[0].Value = math.Inf(-1) },
		"beyond the steps": func(x *sensors.Round) { x.Readings[0].Value = 1e12 },
		"doubled channel":  func(x *sensors.Round) { x.Readings = []sensors.Reading{air(1), rh(2), air(1)} },
		"unknown quality":  func(x *sensors.Round) { x.Readings[0].Quality = sensors.Missing + 1 },
		"unknown quantity": func(x *sensors.Round) { x.Readings[0].Channel.Quantity = 200 },
		"spaced probe":     func(x *sensors.Round) { x.Readings[0].Channel.Probe = "a b" },
	} {
		bad := fine
		bad.Readings = slices.Clone(fine.Readings)
		spoil(&bad)
		if err := r.Append(t.Context(), "attic", []sensors.Round{fine, bad}); !errors.Is(err, store.ErrInvalid) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := r.Append(t.Context(), "", []sensors.Round{fine}); !errors.Is(err, store.ErrInvalid) {
		t.Errorf("no room: %v", err)
	}
	same(t, "what refused deliveries left", look(t, r, "attic"), view{})
	add(t, r, "attic", fine)
}

func checkCancellation(t *testing.T, r store.Readings) {
	ctx, cancel := context.WithCancel(t.Context())
	for i := range 3 {
		add(t, r, "attic", round("bench", "b1", uint64(i+1), at(time.Duration(i)), air(20)))
	}
	calls := 0
	err := r.Rounds(ctx, store.Query{Room: "attic", From: at(0), To: at(time.Hour)}, func(sensors.Round) error {
		calls++
		cancel()
		return nil
	})
	if !errors.Is(err, context.Canceled) || calls != 1 {
		t.Errorf("rounds: %d calls, %v", calls, err)
	}
	before := look(t, r, "attic")
	if err := r.Append(ctx, "attic", []sensors.Round{round("bench", "b1", 9, at(0), air(20))}); !errors.Is(err, context.Canceled) {
		t.Errorf("append: %v", err)
	}
	same(t, "after a cancelled append", look(t, r, "attic"), before)
	if _, err := r.Rollups(ctx, before.Extents[0].Series, time.Hour, at(0), at(time.Hour)); !errors.Is(err, context.Canceled) {
		t.Errorf("rollups: %v", err)
	}
	if _, err := r.Extents(ctx); !errors.Is(err, context.Canceled) {
		t.Errorf("extents: %v", err)
	}
}

func checkCallback(t *testing.T, r store.Readings) {
	add(t, r, "attic", round("bench", "b1", 1, at(0), air(20)), round("bench", "b1", 2, at(1), air(20)))
	enough := errors.New("enough")
	calls := 0
	err := r.Rounds(t.Context(), store.Query{Room: "attic", From: at(0), To: at(time.Hour)}, func(x sensors.Round) error {
		calls++
		x.Readings[0].Value = 99
		// A reader may write: what it adds is not in what it is reading.
		add(t, r, "attic", round("bench", "b1", 3, at(2), air(20)))
		return enough
	})
	if !errors.Is(err, enough) || calls != 1 {
		t.Errorf("%d calls, %v", calls, err)
	}
	got := ask(t, r, store.Query{Room: "attic", From: at(0), To: at(time.Hour)})
	if len(got) != 3 || got[0].Readings[0].Value != 20 {
		t.Errorf("afterwards: %v", got)
	}
}
