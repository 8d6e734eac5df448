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
	answers := typeBlocks(t, m, read(t, "INSTALL.md"))
	for _, c := range []struct{ block, want string }{
		{"recoat doctor --config /etc/recoat/recoat.toml\n", "configuration"},
		{"systemctl enable --now recoat\n", "active (running)"},
		{"curl --fail", "Tonight is there"},
		{"[pages]", "fingerprint"},
		{"[pages]", "enter this code"},
		{"recoat node add", "back-room/bench may speak"},
		{"systemctl restart mosquitto", "\nactive\n"},
	} {
		if got := after(answers, c.block); !strings.Contains("\n"+got, c.want) {
			t.Errorf("after %q, no %q in\n%s", c.block, c.want, got)
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

// exchange is a block of commands with what the machine answered.
type exchange struct{ typed, answer string }

// typeBlocks types every block of commands of a page.
func typeBlocks(t *testing.T, m *machine, page string) (all []exchange) {
	t.Helper()
	for _, b := range shellBlock.FindAllStringSubmatch(page, -1) {
		lines, restart := strings.CutSuffix(b[1], "sudo reboot\n")
		e := exchange{b[1], m.must(t, lines)}
		t.Logf("%s\n%s", e.typed, e.answer)
		all = append(all, e)
		if restart {
			m.stop(t)
			m.start(t)
		}
	}
	return all
}

// after is what the machine answered to the first block that holds a text.
func after(all []exchange, text string) string {
	for _, e := range all {
		if strings.Contains(e.typed, text) {
			return e.answer
		}
	}
	return ""
}
