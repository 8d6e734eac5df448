package deploy

import (
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

var units = []string{"systemd/recoat.service", "systemd/recoat-agent.service", "systemd/recoat-hub.service"}

// strictest is what systemd may at most say of a service's exposure, from 0 to
// 10.
const strictest = "30" // a tenth of it

func TestTheServicesAreHardened(t *testing.T) {
	analyze := need(t, "systemd-analyze", "the services' exposure")
	for _, unit := range units {
		said := output(t, analyze, "security", "--offline=true", "--no-pager", "--threshold="+strictest, unit)
		t.Logf("%s: %s", unit, strings.TrimSpace(said[strings.LastIndex(strings.TrimSpace(said), "\n")+1:]))
	}
	bare := filepath.Join(t.TempDir(), "bare.service")
	if err := os.WriteFile(bare, []byte("[Service]\nExecStart=/bin/true\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if said, err := analyzeSecurity(t, analyze, bare); err == nil {
		t.Errorf("a service without any of it passes too: %s", said)
	}
}

// The manager that reads the file knows every key in it, and finds its section.
func TestTheServicesAreUnderstood(t *testing.T) {
	analyze := need(t, "systemd-analyze", "whether systemd understands the services")
	folder := t.TempDir()
	for _, unit := range units {
		text := strings.ReplaceAll(read(t, unit), "/usr/bin/recoat", "/bin/true")
		path := filepath.Join(folder, filepath.Base(unit))
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if said := complaints(t, analyze, path); said != "" {
			t.Errorf("%s: %s", unit, said)
		}
	}
	odd := filepath.Join(folder, "odd.service")
	if err := os.WriteFile(odd, []byte("[Service]\nExecStart=/bin/true\nWatchdogSecs=60\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if complaints(t, analyze, odd) == "" {
		t.Error("a key that does not exist passes too")
	}
}

// The three differ in what they run and which devices they see, so that a mend
// to one is not forgotten in another.
func TestTheServicesDifferOnlyWhereTheyMust(t *testing.T) {
	own := regexp.MustCompile(`^(Description|Conflicts|ExecStart|SupplementaryGroups|DeviceAllow|PrivateDevices|ProtectClock|Environment|MemoryMax)=|^SystemCallFilter=adjtimex$`)
	shared := func(unit string) []string {
		return slices.DeleteFunc(settings(read(t, unit)), own.MatchString)
	}
	whole := shared(units[0])
	for _, unit := range units[1:] {
		if other := shared(unit); !slices.Equal(whole, other) {
			t.Errorf("%s shares\n%s\nwant\n%s", unit, strings.Join(other, "\n"), strings.Join(whole, "\n"))
		}
	}
	for _, want := range []string{"Type=notify", "WatchdogSec=60", "Restart=always"} {
		if !slices.Contains(whole, want) {
			t.Errorf("no %s", want)
		}
	}
}

// The log limits and the watchdog are keys of the daemons that read them: one
// carries the table of its keys as section.key, the other as keys alone.
func TestTheDaemonsKnowTheirSettings(t *testing.T) {
	for _, c := range []struct{ file, daemon, section, prefix string }{
		{"package/journald.conf", "/lib/systemd/systemd-journald", "Journal", "Journal."},
		{"../firmware-config/watchdog.conf", "/lib/systemd/systemd", "Manager", ""},
	} {
		binary, err := os.ReadFile(c.daemon)
		if err != nil {
			t.Skipf("%s is not here: its settings are not looked up", c.daemon)
		}
		lines := settings(read(t, c.file))
		if lines[0] != "["+c.section+"]" || len(lines) < 2 {
			t.Fatalf("%s begins with %s", c.file, lines[0])
		}
		for _, line := range lines[1:] {
			key, _, found := strings.Cut(line, "=")
			if !found || !strings.Contains(string(binary), "\x00"+c.prefix+key+"\x00") {
				t.Errorf("%s: %s does not know %q", c.file, c.daemon, line)
			}
		}
		if strings.Contains(string(binary), "\x00"+c.prefix+"NoSuchKey\x00") {
			t.Error("every key is found")
		}
	}
}

// exposure is one line of what systemd makes of a service.
type exposure struct {
	Field    string `json:"json_field"`
	Exposure any    `json:"exposure"`
}

// What a service needs is not taken from it by the hardening.
func TestTheHardeningLeavesWhatRecoatNeeds(t *testing.T) {
	analyze := need(t, "systemd-analyze", "what the hardening takes away")
	var lines []exposure
	text := output(t, analyze, "security", "--offline=true", "--no-pager", "--json=short", units[0])
	if err := json.Unmarshal([]byte(text), &lines); err != nil || len(lines) < 40 {
		t.Fatalf("%d lines, %v", len(lines), err)
	}
	needed := map[string]string{
		"PrivateDevices": "the buses", "ProtectClock": "whether the clock is set",
		"PrivateNetwork": "broker, pages and phone", "ProcSubset": "the boot id",
	}
	for _, l := range lines {
		if why, ok := needed[l.Field]; ok && l.Exposure == nil {
			t.Errorf("%s takes away %s", l.Field, why)
		}
		delete(needed, l.Field)
	}
	for field := range needed {
		t.Errorf("nothing is said of %s", field)
	}
}
