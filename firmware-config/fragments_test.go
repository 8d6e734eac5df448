// Package firmware holds the tests of the files that a Pi boots with.
package firmware

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// overlays and their parameters, as the README of the Pi's device tree overlays
// names them (raspberrypi/firmware, boot/overlays/README).
var overlays = map[string]string{
	"w1-gpio":  `^gpiopin=\d+$`,
	"i2c-rtc":  `^(ds3231|ds1307|pcf8523|pcf8563)$`,
	"i2c-gpio": `^(bus|i2c_gpio_sda|i2c_gpio_scl|i2c_gpio_delay_us)=\d+$`,
}

// params are those of the board's own tree, from the same page.
var params = map[string]string{
	"i2c_arm": `^on$`, "i2c_arm_baudrate": `^\d+$`, "watchdog": `^on$`, "rtc_bbat_vchg": `^\d+$`,
}

var commented = regexp.MustCompile(`(?m)^# (dtparam|dtoverlay)=`)

func check(line string) string {
	kind, rest, _ := strings.Cut(line, "=")
	switch {
	case line == "[all]":
		return ""
	case kind == "dtparam":
		key, value, _ := strings.Cut(rest, "=")
		if form, known := params[key]; known && regexp.MustCompile(form).MatchString(value) {
			return ""
		}
	case kind == "dtoverlay":
		name, list, _ := strings.Cut(rest, ",")
		form, known := overlays[name]
		if !known {
			break
		}
		for _, p := range strings.Split(list, ",") {
			if !regexp.MustCompile(form).MatchString(p) {
				return line + ": " + name + " has no parameter " + p
			}
		}
		return ""
	}
	return line + ": not a line that the Pi's firmware knows"
}

func TestTheFragmentsAreWhatTheFirmwareReads(t *testing.T) {
	files, err := filepath.Glob("boot/config-*.txt")
	if err != nil || len(files) != 3 {
		t.Fatalf("%v, %v", files, err)
	}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for line := range strings.Lines(commented.ReplaceAllString(string(text), "$1=")) {
			line = strings.TrimSpace(line)
			if len(line) > 98 { // the firmware reads no more of a line
				t.Errorf("%s: %q is %d long", file, line, len(line))
			}
			if line == "" || strings.HasPrefix(line, "#") {
				continue
			}
			n++
			if bad := check(line); bad != "" {
				t.Errorf("%s: %s", file, bad)
			}
		}
		if n < 4 {
			t.Errorf("%s: %d lines", file, n)
		}
	}
	for _, wrong := range []string{"dtparam=i2c=maybe", "dtoverlay=w1-gpio,pin=4", "dtoverlay=ds3231", "i2c_arm=on"} {
		if check(wrong) == "" {
			t.Errorf("%q passes", wrong)
		}
	}
}

// kernel-parameters.txt names panic=, systemd-fsck(8) names fsck.repair=.
func TestTheCommandLineIsOneLineOfKnownWords(t *testing.T) {
	text, err := os.ReadFile("boot/cmdline-additions.txt")
	if err != nil {
		t.Fatal(err)
	}
	line := strings.TrimSuffix(string(text), "\n")
	if strings.Contains(line, "\n") || line == "" {
		t.Fatalf("%q: cmdline.txt has one line", line)
	}
	for _, word := range strings.Fields(line) {
		if !regexp.MustCompile(`^(panic=\d+|fsck\.repair=(yes|preen|no))$`).MatchString(word) {
			t.Errorf("nothing reads %q", word)
		}
	}
}

// The kernel's module of that name makes the buses files; udev(7) names the keys
// of the rules.
func TestTheRulesAreWhatUdevReads(t *testing.T) {
	token := regexp.MustCompile(`^(SUBSYSTEM==|KERNEL==|ACTION==|ATTR\{[a-z_]+\}=|GROUP=|MODE=)"[^"]+"$`)
	text, err := os.ReadFile("60-recoat.rules")
	if err != nil {
		t.Fatal(err)
	}
	rules := 0
	for line := range strings.Lines(string(text)) {
		if line = strings.TrimSpace(line); line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		rules++
		for _, part := range strings.Split(line, ", ") {
			if !token.MatchString(part) {
				t.Errorf("%q: udev has no such key", part)
			}
		}
	}
	if rules != 3 {
		t.Errorf("%d rules", rules)
	}
	modules, err := os.ReadFile("modules-load.conf")
	if err != nil || !regexp.MustCompile(`(?m)^i2c-dev$`).Match(modules) {
		t.Errorf("%s, %v", modules, err)
	}
}

// udev itself reads the rules, where it is there and may be asked.
func TestUdevTakesTheRules(t *testing.T) {
	udevadm, err := exec.LookPath("udevadm")
	if err != nil {
		t.Skip("udevadm is not installed: the rules are not shown to it")
	}
	help, err := exec.CommandContext(t.Context(), udevadm, "--help").CombinedOutput()
	if err != nil || !strings.Contains(string(help), "verify") {
		t.Skip("this udevadm cannot verify rules: systemd 254 and later can")
	}
	if out, err := exec.CommandContext(t.Context(), udevadm, "verify", "--no-style", "60-recoat.rules").CombinedOutput(); err != nil {
		t.Errorf("%v: %s", err, out)
	}
}
