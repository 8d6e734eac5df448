package main

import (
	"testing"

	"github.com/alecthomas/kong"
)

// The work of a command is begun without the parser, so each has to be one.
func TestEveryCommandDoesSomething(t *testing.T) {
	var commands cli
	parser, err := kong.New(&commands, kong.Vars{"version": "recoat"})
	if err != nil {
		t.Fatal(err)
	}
	leaves := parser.Model.Leaves(false)
	if len(leaves) < 30 {
		t.Fatalf("found %d commands", len(leaves))
	}
	for _, leaf := range leaves {
		if _, ok := leaf.Target.Addr().Interface().(worker); !ok {
			t.Errorf("recoat %s has no Run", leaf.Path())
		}
	}
}
