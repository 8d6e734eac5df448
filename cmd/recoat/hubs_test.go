package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"html"
	"io"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"recoat/internal/doctor"
	"recoat/internal/telemetry"
	"recoat/internal/telemetry/mosquittotest"
)

// hubSettings are one hub's of several.
func hubSettings(t *testing.T, b *mosquittotest.Broker, name string, rooms ...string) string {
	t.Helper()
	folder := t.TempDir()
	secret := filepath.Join(folder, "password")
	place(t, secret, passwords[name])
	path := filepath.Join(folder, "recoat.toml")
	place(t, path, fmt.Sprintf("[room]\nid = %q\ntitle = \"Main\"\n[pages]\nlisten = \"127.0.0.1:0\"\n[data]\nfolder = %q\n[hub]\nname = %q\nrooms = [\"%s\"]\n[broker]\nurl = %q\nuser = %q\npassword_file = %q\nca_file = %q\n",
		rooms[0], filepath.Join(folder, "data"), name, strings.Join(rooms, "\", \""), b.URL, name, secret, b.CA))
	return path
}

// nodeSettings are one node's, in its room.
func nodeSettings(t *testing.T, b *mosquittotest.Broker, room, node string) string {
	t.Helper()
	path := halfConfig(t, b.URL, node, passwords[node], kernelTree(t))
	text := strings.NewReplacer("\"loft\"", fmt.Sprintf("%q", room), "node = \"pi\"", "node = \""+node+"\"").Replace(shipped(t, path))
	place(t, path, text+fmt.Sprintf("ca_file = %q\n", b.CA))
	return path
}

func roomsOf(t *testing.T, hub string) string {
	t.Helper()
	var all []string
	for _, r := range ask(t, hub).Rooms {
		state := " silent"
		if r.Air != nil {
			state = ""
		}
		all = append(all, r.Room+state)
	}
	return strings.Join(all, ", ")
}

// Two hubs on one broker, under the access list shipped for that, each have the
// rooms that they name, and nothing of the other's. A third that asks for a room
// of theirs stands back and says so.
func TestHubsShareABrokerByRoom(t *testing.T) {
	b := mosquittotest.Start(t, mosquittotest.Options{
		Access: shipped(t, "../../deploy/mosquitto/recoat-hubs.access"),
		More:   "user hub\ntopic readwrite recoat/1/#\n", // a third, which may do anything
		Users:  passwords,
	})
	north := startForAddress(t, "hub", "--config", hubSettings(t, b, "north", "back-room"))
	south := running(t, "hub", "--config", hubSettings(t, b, "south", "loft"))
	southPages := south.find(t, "("+address.String()+")")
	start(t, "agent", "--config", nodeSettings(t, b, "back-room", "bench"))
	start(t, "agent", "--config", nodeSettings(t, b, "loft", "shelf"))
	eventually(t, "each hub has its own room", func() bool { return roomsOf(t, north) == "back-room" && roomsOf(t, southPages) == "loft" })

	overlapping := hubSettings(t, b, "hub", "loft", "shed")
	place(t, overlapping, strings.Replace(shipped(t, overlapping), "name = \"hub\"", "name = \"west\"", 1))
	west := startForAddress(t, "hub", "--config", overlapping)
	eventually(t, "the third leaves the loft and keeps the shed", func() bool { return roomsOf(t, west) == "shed silent" })
	if told := html.UnescapeString(page(t, west, "setup")); !strings.Contains(told, "Room loft: not taken here") || !strings.Contains(told, "another hub, south") {
		t.Errorf("its pages do not say why the loft is missing: %.400s", told)
	}

	// Killed, the second hub leaves its room to nobody: what its node measures waits
	// in the node's spool, and the third does not take it up by itself.
	if out, err := exec.CommandContext(t.Context(), "kill", "-9", fmt.Sprint(south.pid)).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	eventually(t, "it is heard no more", func() bool { return strings.Contains(page(t, west, "setup"), "It is not heard any more.") })
	if got := roomsOf(t, west); got != "shed silent" {
		t.Errorf("the third hub has %s", got)
	}
	if got := roomsOf(t, north); got != "back-room" {
		t.Errorf("the first hub has %s", got)
	}
}

func TestTheDoctorFindsTwoHubsOnOneRoom(t *testing.T) {
	b := mosquittotest.Start(t, mosquittotest.Options{Users: passwords})
	first := hubSettings(t, b, "hub", "loft")
	text := shipped(t, first)
	look := func() doctor.Finding {
		var out bytes.Buffer
		err := (&doctorCommand{Config: first, JSON: true}).Run(&session{ctx: t.Context(), stdout: &out, stderr: io.Discard})
		var all []doctor.Finding
		if jsonErr := json.Unmarshal(out.Bytes(), &all); jsonErr != nil {
			t.Fatalf("%v, %v", err, jsonErr)
		}
		for _, f := range all {
			if f.Subject == "hubs" {
				return f
			}
		}
		t.Fatal("no word on hubs")
		return doctor.Finding{}
	}
	place(t, first, strings.Replace(text, "name = \"hub\"\nrooms = [\"loft\"]", "", 1))
	if f := look(); f.State != doctor.NotThere {
		t.Errorf("without a hub: %+v", f)
	}
	startForAddress(t, "hub", "--config", first)
	eventually(t, "the hub is named", func() bool { f := look(); return f.State == doctor.OK && f.Detail == "hub has every room" })
}

func TestHubsThatCannotBeToldApartAreRefused(t *testing.T) {
	for text, want := range map[string]string{
		"[hub]\nname = \"Hub\"\n":                                        "hub.name",
		"[hub]\nrooms = [\"back-room\"]\n":                               "a name that no other has",
		"[hub]\nname = \"north\"\nrooms = [\"loft\"]\n":                  "room.id",
		"[hub]\nname = \"north\"\nrooms = [\"back-room\", \"Loft\"]\n":   "hub.rooms",
		"[hub]\nname = \"north\"\nrooms = [\"back-room\",\"back-room\"]": "twice",
	} {
		if _, err := loadConfig(write(t, "recoat.toml", text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", text, err)
		}
	}
	c, err := loadConfig(write(t, "recoat.toml", "[hub]\nname = \"north\"\nrooms = [\"back-room\", \"loft\"]\n"))
	if err != nil || len(c.ownRooms()) != 2 {
		t.Errorf("%v, %v", c.ownRooms(), err)
	}
}

func TestTwoClaimsOfOneRoomAreNotOK(t *testing.T) {
	claimsOf := func(hub string, rooms ...string) []telemetry.Claim {
		return []telemetry.Claim{{Hub: hub, Rooms: rooms}}
	}
	claims := claimsOf("north", "loft")
	if f := hubsBy(append(claims, claimsOf("south", "shed")...)); f.State != doctor.OK {
		t.Errorf("%+v", f)
	}
	for _, rooms := range [][]string{{"loft", "shed"}, nil} {
		if f := hubsBy(append(claims, claimsOf("south", rooms...)...)); f.State != doctor.NotOK || !strings.Contains(f.Do, "both north and south") {
			t.Errorf("%v: %+v", rooms, f)
		}
	}
}
