package deploy

import (
	"regexp"
	"strings"
	"testing"
)

const (
	thisPackage   = "../build/packages/recoat_*_amd64.deb"
	beforePackage = "../build/before/recoat_*_amd64.deb"
)

var shellBlock = regexp.MustCompile("(?s)```sh\n(.*?)```")

// Every command of the install page, in order, as a first-time owner would type
// it, on a Debian that has never seen recoat. A restart is one: the machine
// loses its supply and starts again.
func TestTheInstallPageWorksAsWritten(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a machine")
	}
	deb := built(t, thisPackage)
	m := newMachine(t)
	m.bring(t, deb)
	blocks := shellBlock.FindAllStringSubmatch(read(t, "INSTALL.md"), -1)
	if len(blocks) < 8 {
		t.Fatalf("%d blocks of commands on the page", len(blocks))
	}
	said := map[string]string{}
	for _, b := range blocks {
		lines, restart := strings.CutSuffix(strings.TrimSpace(b[1]), "sudo reboot")
		said[firstLine(lines)] = m.must(t, lines)
		t.Logf("%s\n%s", strings.TrimSpace(b[1]), said[firstLine(lines)])
		if restart {
			m.stop(t)
			m.start(t)
		}
	}
	for start, want := range map[string]string{
		"sudo systemctl enable --now recoat":          "active (running)",
		"curl --fail":                                 "Tonight is there",
		"sudo install -m 644 /etc/recoat/tls":         "\nactive\n",
		"sudo -u recoat recoat doctor --config /etc/": "configuration",
	} {
		if got := found(said, start); !strings.Contains("\n"+got, want) {
			t.Errorf("after %q, no %q in\n%s", start, want, got)
		}
	}
	if fragment := m.must(t, "cat /boot/firmware/config.txt"); !strings.Contains(fragment, "dtoverlay=w1-gpio,gpiopin=4") {
		t.Errorf("config.txt holds\n%s", fragment)
	}
	heard := m.must(t, `for i in $(seq 50); do sudo journalctl --no-pager -u recoat-hub | grep -q "broker connected" && echo heard && break; sleep 0.2; done`)
	if !strings.Contains(heard, "heard") {
		t.Errorf("the hub does not reach the broker:\n%s", m.log(t))
	}
}

func firstLine(text string) string {
	line, _, _ := strings.Cut(strings.TrimSpace(text), "\n")
	return line
}

func found(said map[string]string, start string) string {
	for line, text := range said {
		if strings.HasPrefix(line, start) {
			return text
		}
	}
	return ""
}
