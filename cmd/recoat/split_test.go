package main

import (
	"fmt"
	"log/slog"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"recoat/internal/telemetry"
	"recoat/sensors/emulated"
)

// A Pi in the room and a machine elsewhere, each a process of its own with a
// broker between them, and the kernel's files for sensors.
func TestAgentAndHubOnTwoMachines(t *testing.T) {
	root := kernelTree(t)
	broker, err := telemetry.ListenBroker(t.Context(), telemetry.BrokerConfig{
		Addr: "127.0.0.1:0", Log: slog.New(slog.DiscardHandler),
		Users: []telemetry.User{telemetry.HubUser("hub", "hub-secret"), telemetry.AgentUser("pi", "pi-secret", "loft", "pi")},
	})
	if err != nil {
		t.Fatal(err)
	}
	go func() { _ = broker.Run(t.Context()) }()

	url := "tcp://" + broker.Addr().String()
	hub := startForAddress(t, "hub", "--config", halfConfig(t, url, "hub", "hub-secret", root))
	start(t, "agent", "--config", halfConfig(t, url, "pi", "pi-secret", root))

	var last rooms
	for deadline := time.Now().Add(time.Minute); ; time.Sleep(200 * time.Millisecond) {
		last = ask(t, hub)
		if len(last.Rooms) == 1 && last.Rooms[0].Air != nil && len(last.Rooms[0].Surfaces) == 1 {
			break
		}
		if time.Now().After(deadline) {
			t.Fatalf("after a minute the hub shows %+v", last)
		}
	}
	if air := last.Rooms[0].Air; math.Abs(air.Air-18.25) > 0.01 || math.Abs(air.Humidity-61.5) > 0.01 {
		t.Errorf("the hub shows %+v, the kernel's files say 18.25 °C and 61.5 %%", air)
	}
}

// kernelTree plays a machine whose kernel drives one humidity sensor and one
// surface probe.
func kernelTree(t testing.TB) string {
	t.Helper()
	root := t.TempDir()
	for name, text := range map[string]string{
		"sys/class/hwmon/hwmon0/name":            "sht4x\n",
		"sys/class/hwmon/hwmon0/temp1_input":     "18250\n",
		"sys/class/hwmon/hwmon0/humidity1_input": "61500\n",
		"proc/sys/kernel/random/boot_id":         "0f0e0d0c-1111-4222-8333-444455556666\n",
	} {
		path := filepath.Join(root, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := (&emulated.OneWire{Root: root}).Set(probe, 17.5); err != nil {
		t.Fatal(err)
	}
	return root
}

// halfConfig is the configuration of one half.
func halfConfig(t *testing.T, url, user, password, root string) string {
	t.Helper()
	folder := t.TempDir()
	secret := filepath.Join(folder, "password")
	if err := os.WriteFile(secret, []byte(password+"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(folder, "recoat.toml")
	text := fmt.Sprintf("[room]\nid = \"loft\"\ntitle = \"Loft\"\nnode = \"pi\"\n[pages]\nlisten = \"127.0.0.1:0\"\n[data]\nfolder = %q\n[sensors]\nevery = \"1s\"\nroot = %q\n[broker]\nurl = %q\nuser = %q\npassword_file = %q\n",
		filepath.Join(folder, "data"), root, url, user, secret)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}
