package main

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"periph.io/x/conn/v3/pin"
	"periph.io/x/host/v3/bcm283x"
	"periph.io/x/host/v3/rpi"
)

func read(t *testing.T, path string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", path))
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

func TestTheDrawingsAreOfTheseBuilds(t *testing.T) {
	for _, b := range builds() {
		if read(t, "drawings/"+b.File) != b.svg() {
			t.Errorf("%s is of another build: go run ./draw, in firmware-config, draws it anew", b.File)
		}
		d := xml.NewDecoder(strings.NewReader(b.svg()))
		for {
			if _, err := d.Token(); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				t.Fatalf("%s: %v", b.File, err)
			}
		}
	}
}

func TestThePagesTablesAreOfTheseBuilds(t *testing.T) {
	page := read(t, "WIRING.md")
	for _, b := range builds() {
		if !strings.Contains(page, "drawings/"+b.File) {
			t.Errorf("the page does not show %s", b.File)
		}
		for _, p := range b.Parts {
			if !strings.Contains(page, p.table()) {
				t.Errorf("%s: the page wants\n%s", b.Title, p.table())
			}
		}
	}
}

// The header against a table made by others: periph's, of the board's pins.
func TestTheHeaderIsTheBoards(t *testing.T) {
	gpio := map[int]fmt.Stringer{
		3: rpi.P1_3, 5: rpi.P1_5, 7: rpi.P1_7, 8: rpi.P1_8, 10: rpi.P1_10, 11: rpi.P1_11, 12: rpi.P1_12, 13: rpi.P1_13,
		15: rpi.P1_15, 16: rpi.P1_16, 18: rpi.P1_18, 19: rpi.P1_19, 21: rpi.P1_21, 22: rpi.P1_22, 23: rpi.P1_23, 24: rpi.P1_24,
		26: rpi.P1_26, 27: rpi.P1_27, 28: rpi.P1_28, 29: rpi.P1_29, 31: rpi.P1_31, 32: rpi.P1_32, 33: rpi.P1_33,
		35: rpi.P1_35, 36: rpi.P1_36, 37: rpi.P1_37, 38: rpi.P1_38, 40: rpi.P1_40,
	}
	supply := map[int]pin.Pin{
		1: rpi.P1_1, 2: rpi.P1_2, 4: rpi.P1_4, 6: rpi.P1_6, 9: rpi.P1_9, 14: rpi.P1_14, 17: rpi.P1_17, 20: rpi.P1_20,
		25: rpi.P1_25, 30: rpi.P1_30, 34: rpi.P1_34, 39: rpi.P1_39,
	}
	if len(gpio)+len(supply) != len(header) {
		t.Fatalf("%d pins compared", len(gpio)+len(supply))
	}
	for n, p := range gpio {
		var number int
		if _, err := fmt.Sscanf(header[n-1], "GPIO %d", &number); err != nil || fmt.Sprintf("GPIO%d", number) != p.String() {
			t.Errorf("pin %d is %q here and %s there", n, header[n-1], p)
		}
	}
	names := map[pin.Pin]string{pin.V3_3: "3.3 V", pin.V5: "5 V", pin.GROUND: "GND"}
	for n, p := range supply {
		if header[n-1] != names[p] {
			t.Errorf("pin %d is %q here and %s there", n, header[n-1], p)
		}
	}
	if rpi.P1_3 != bcm283x.GPIO2 {
		t.Error("the other table names no pins")
	}
}

// A wire that supplies comes from 3.3 V, never from 5 V, and one that grounds
// from ground; each terminal has one wire.
func TestNoWireIsDangerous(t *testing.T) {
	for _, b := range builds() {
		for _, p := range b.Parts {
			seen := map[string]bool{}
			for _, w := range p.Wires {
				if seen[w.Terminal] {
					t.Errorf("%s, %s: two wires at %s", b.File, p.Name, w.Terminal)
				}
				seen[w.Terminal] = true
				switch w.Terminal {
				case "3.3 V", "supply":
					if w.named() != "3.3 V" {
						t.Errorf("%s, %s: supplied by %s", b.File, p.Name, w.From)
					}
				case "GND", "ground":
					if w.named() != "GND" {
						t.Errorf("%s, %s: grounded at %s", b.File, p.Name, w.From)
					}
				default:
					if n := w.named(); strings.HasSuffix(n, " V") || n == "GND" {
						t.Errorf("%s, %s: %s lies on %s", b.File, p.Name, w.Terminal, n)
					}
				}
			}
		}
	}
}

// What the boot fragment of a build switches on lies on the pins of its drawing.
func TestTheFragmentsSwitchOnThePinsOfTheDrawings(t *testing.T) {
	for i, fragment := range []string{"boot/config-minimum.txt", "boot/config-two-surfaces.txt", "boot/config-long-cable.txt"} {
		text := read(t, fragment)
		on := map[string]string{}
		if strings.Contains(text, "\ndtparam=i2c_arm=on\n") {
			on["GPIO 2 SDA"], on["GPIO 3 SCL"] = "SDA", "SCL"
		}
		for key, terminal := range map[string]string{`w1-gpio,gpiopin`: "data", `i2c_gpio_sda`: "SDA", `i2c_gpio_scl`: "SCL"} {
			if m := regexp.MustCompile(`(?m)^dtoverlay=.*` + key + `=(\d+)`).FindStringSubmatch(text); m != nil {
				n, err := strconv.Atoi(m[1])
				if err != nil {
					t.Fatal(err)
				}
				on[fmt.Sprintf("GPIO %d", n)] = terminal
			}
		}
		used := map[string]string{}
		for _, p := range builds()[i].Parts {
			for _, w := range p.Wires {
				if strings.HasPrefix(w.named(), "GPIO") {
					used[w.named()] = w.Terminal
				}
			}
		}
		if fmt.Sprint(on) != fmt.Sprint(used) {
			t.Errorf("%s switches on %v, the drawing uses %v", fragment, on, used)
		}
	}
}
