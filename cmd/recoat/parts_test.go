package main

import (
	"errors"
	"slices"
	"testing"
)

// What fails on closing is returned, with what had failed before, and keeps no
// other from being closed.
func TestErrorsOfClosingAreReturned(t *testing.T) {
	first, last, before := errors.New("the store"), errors.New("the lock"), errors.New("the port")
	for _, running := range []error{nil, before} {
		var closed []string
		command := func() (err error) {
			p := &parts{}
			defer p.closeInto(&err)
			p.onClose(func() error { closed = append(closed, "lock"); return last })
			p.onClose(func() error { closed = append(closed, "journal"); return nil })
			p.onClose(func() error { closed = append(closed, "store"); return first })
			return running
		}
		err := command()
		if !errors.Is(err, first) || !errors.Is(err, last) || errors.Is(err, before) != (running != nil) {
			t.Errorf("after %v: %v", running, err)
		}
		if !slices.Equal(closed, []string{"store", "journal", "lock"}) {
			t.Errorf("closed %v", closed)
		}
	}
	command := func() (err error) {
		p := &parts{}
		defer p.closeInto(&err)
		p.onClose(func() error { return nil })
		return nil
	}
	if err := command(); err != nil {
		t.Errorf("where all is well: %v", err)
	}
}
