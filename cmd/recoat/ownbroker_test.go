package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"path/filepath"
	"testing"

	"recoat/internal/telemetry/mosquittotest"
)

// A hub without a broker beside it is one itself, and hears a node that it was
// told of, over TLS.
func TestAHubIsItsOwnBroker(t *testing.T) {
	folder, port := t.TempDir(), mosquittotest.FreePort(t)
	settings := filepath.Join(folder, "recoat.toml")
	place(t, settings, fmt.Sprintf("[room]\nid = \"loft\"\n[pages]\nlisten = \"127.0.0.1:0\"\n[data]\nfolder = %q\n[broker]\nlisten = \"127.0.0.1:%s\"\n", folder, port))
	hub := startForAddress(t, "hub", "--config", settings)
	var out, errs bytes.Buffer
	if code := run(t.Context(), []string{"node", "add", "--json", "--config", settings, "loft", "pi"}, &out, &errs); code != 0 {
		t.Fatalf("exit %d: %s", code, errs.String())
	}
	var node nodeReport
	if err := json.Unmarshal(out.Bytes(), &node); err != nil {
		t.Fatal(err)
	}
	path := halfConfig(t, "ssl://127.0.0.1:"+port, node.User, node.Password, kernelTree(t))
	place(t, path, shipped(t, path)+fmt.Sprintf("ca_file = %q\n", filepath.Join(folder, "tls", "authority.crt")))
	start(t, "agent", "--config", path)
	eventually(t, "the node's readings", func() bool {
		r := ask(t, hub)
		return len(r.Rooms) == 1 && r.Rooms[0].Air != nil && math.Abs(r.Rooms[0].Air.Humidity-61.5) < 0.01
	})
}
