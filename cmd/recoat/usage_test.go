package main

import (
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func write(t *testing.T, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// Each mistake gets one line that says what is wrong, where, and what would be
// right.
func TestMistakesGetOneClearLine(t *testing.T) {
	busy, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer busy.Close()
	product := write(t, "quick.toml", quick)
	sealed := sealedFolder(t)
	config := func(text string) string { return write(t, "recoat.toml", text) }
	for name, c := range map[string]struct {
		args []string
		code int
		want []string
	}{
		"no unit":              {[]string{"air", "--air", "20", "--rh", "60"}, 2, []string{"--air", `"20"`, "20C or 68F"}},
		"wrong unit":           {[]string{"air", "--air", "20K", "--rh", "60"}, 2, []string{"--air", "20K", "20C or 68F"}},
		"impossible humidity":  {[]string{"air", "--air", "20C", "--rh", "160"}, 2, []string{"--rh", "160", "0% and 100%"}},
		"no water at all":      {[]string{"air", "--air", "20C", "--rh", "0"}, 2, []string{"0 %", "dew point", "above 0 %"}},
		"missing flag":         {[]string{"air", "--air", "20C"}, 2, []string{"--rh"}},
		"unknown command":      {[]string{"varnish"}, 2, []string{"varnish"}},
		"missing product file": {[]string{"stages", "--product", "nowhere.toml", "--air", "20C", "--rh", "50"}, 1, []string{"nowhere.toml", "no such file"}},
		"no recoat time": {[]string{"stages", "--product", write(t, "p.toml", strings.Replace(quick, "recoat = \"10m\"\n", "", 1)), "--air", "20C", "--rh", "50"}, 1,
			[]string{"p.toml", "stated.recoat", `recoat = "4h"`}},
		"no stage time": {[]string{"stages", "--product", write(t, "p.toml", "name = \"x\"\nfamily = \"solvent\"\n[stated]\nair = \"23C\"\nrh = 50\n"), "--air", "20C", "--rh", "50"}, 1,
			[]string{"p.toml", "stated.recoat"}},
		"unknown label key": {[]string{"stages", "--product", write(t, "p.toml", quick+"recote = \"2h\"\n"), "--air", "20C", "--rh", "50"}, 1,
			[]string{"p.toml", "recote", "recoat"}},
		"unit in the label": {[]string{"stages", "--product", write(t, "p.toml", strings.Replace(quick, "23C", "23", 1)), "--air", "20C", "--rh", "50"}, 1,
			[]string{"p.toml", "air", "20C or 68F"}},
		"unknown configuration key": {[]string{"up", "--config", config("[room]\nname = \"x\"\n")}, 1, []string{"line 2", "room.name", "deploy/recoat.toml"}},
		"broken configuration":      {[]string{"up", "--config", config("[room\n")}, 1, []string{"line 1"}},
		"missing configuration":     {[]string{"up", "--config", "nowhere.toml"}, 1, []string{"nowhere.toml", "no such file"}},
		"pages without a port":      {[]string{"up", "--config", config("[pages]\nlisten = \"0.0.0.0\"\n")}, 1, []string{"pages.listen", "127.0.0.1:7423"}},
		"a certificate, no key":     {[]string{"up", "--config", config("[pages]\ncertificate = \"shop.crt\"\n")}, 1, []string{"pages.certificate", "pages.key"}},
		"a broker without a port":   {[]string{"hub", "--config", config("[broker]\nlisten = \"0.0.0.0\"\n")}, 1, []string{"broker.listen"}},
		"a role that there is not":  {[]string{"people", "add", "ida", "--role", "boss", "--config", config("")}, 2, []string{"owner, helper or wall", "boss"}},
		"a node with a bad name":    {[]string{"node", "add", "Back Room", "bench", "--config", config("")}, 2, []string{"Back Room", "small letters"}},
		"port in use": {[]string{"up", "--simulate", "--config", config(fmt.Sprintf("[pages]\nlisten = %q\n[data]\nfolder = %q\n", busy.Addr(), filepath.Join(t.TempDir(), "d")))}, 1,
			[]string{"port is in use", busy.Addr().String(), "[pages] listen"}},
		"folder it may not write": {[]string{"up", "--simulate", "--config", config(fmt.Sprintf("[pages]\nlisten = \"127.0.0.1:0\"\n[data]\nfolder = %q\n", sealed))}, 1,
			[]string{sealed, "[data] folder"}},
		"secret that others read": {[]string{"up", "--simulate", "--config", config(fmt.Sprintf("[pages]\nlisten = \"127.0.0.1:0\"\n[data]\nfolder = %q\n[alerts]\nchannel_files = [%q]\n", t.TempDir(), openSecret(t)))}, 1,
			[]string{"alerts.channel_files", "chmod 600"}},
		"mail without a sender": {[]string{"up", "--simulate", "--alert", "--config", config(fmt.Sprintf("[pages]\nlisten = \"127.0.0.1:0\"\n[data]\nfolder = %q\n[alerts.mail]\nhost = \"mail.example\"\nto = [\"a@mail.example\"]\n", t.TempDir()))}, 1,
			[]string{"alerts.mail", "sender"}},
		"agent without a broker": {[]string{"agent"}, 1, []string{"broker.url", "ssl://"}},
		"hub without a broker":   {[]string{"hub", "--config", config(fmt.Sprintf("[data]\nfolder = %q\n", filepath.Join(sealed, "never-made")))}, 1, []string{"broker.url", "ssl://", "recoat up"}},
		"sensors that fail": {[]string{"up", "--config", config(fmt.Sprintf("[pages]\nlisten = \"127.0.0.1:0\"\n[data]\nfolder = %q\n[sensors]\ni2c = \"no-such-bus\"\nroot = %q\n", sealed, t.TempDir()))}, 1,
			[]string{"no-such-bus", "group i2c", "recoat up --simulate"}},
		"a chip at no such address": {[]string{"agent", "--config", config("[sensors]\nmux = 0x44\n")}, 1, []string{"sensors.mux 0x44", "0x70 to 0x77"}},
		"a thermistor without a curve": {[]string{"agent", "--config", config("[[sensors.thermistors]]\nadc = 0x48\nseries = 10000\nsupply = 3.3\n")}, 1,
			[]string{"sensors.thermistors, number 1", "r25 and beta"}},
		"a thermistor with a key too many": {[]string{"agent", "--config", config("[[sensors.thermistors]]\nadc = 0x48\nohms = 10000\n")}, 1, []string{"line 3", "sensors.thermistors.ohms"}},
		"record without humidity": {[]string{"replay", "--product", product, "--applied", "2026-01-02T08:00:00Z", write(t, "r.csv", "time,air_c\n2026-01-02T08:00:00Z,20\n")}, 1,
			[]string{"r.csv", "rh_pct"}},
		"coat outside the record": {[]string{"replay", "--product", product, "--applied", "2027-01-02T08:00:00Z", write(t, "r.csv", record(nil))}, 2,
			[]string{"r.csv", "2027-01-02", "outside the record"}},
		"time without a form": {[]string{"replay", "--product", product, "--applied", "yesterday", write(t, "r.csv", record(nil))}, 2, []string{"--applied", "yesterday"}},
	} {
		t.Run(name, func(t *testing.T) {
			out, errs, code := call(t, c.args...)
			if code != c.code || strings.Count(errs, "\n") != 1 || !strings.HasPrefix(errs, "recoat: ") || out != "" {
				t.Errorf("exit %d (want %d), %d lines, out %q:\n%s", code, c.code, strings.Count(errs, "\n"), out, errs)
			}
			for _, want := range c.want {
				if !strings.Contains(errs, want) {
					t.Errorf("no %q in: %s", want, errs)
				}
			}
		})
	}
	if entries, err := os.ReadDir(sealed); err == nil && len(entries) > 0 {
		t.Errorf("something was written into a folder that may not be: %v", entries)
	}
}

// record is two hours of a steady room, minute by minute, with extra rows.
func record(extra []string) string {
	var b strings.Builder
	b.WriteString("time,air_c,rh_pct,surface_c\n")
	for m := range 120 {
		fmt.Fprintf(&b, "2026-01-02T%02d:%02d:00Z,23,50,23\n", 8+m/60, m%60)
	}
	for _, row := range extra {
		b.WriteString(row + "\n")
	}
	return b.String()
}

// A broken row is told with its line, and the rest is used.
func TestABrokenRowIsToldAndSkipped(t *testing.T) {
	path := write(t, "r.csv", record([]string{"2026-01-02T10:00:00Z,23,180,23"}))
	out, errs, code := call(t, "replay", "--product", write(t, "quick.toml", quick), "--applied", "2026-01-02T08:00:00Z", path, "--json")
	if code != 0 || !strings.Contains(errs, "line 122") || !strings.Contains(errs, "180") || strings.Count(errs, "\n") != 1 {
		t.Errorf("exit %d, it says: %s", code, errs)
	}
	if !strings.Contains(out, `"bad": 1`) || !strings.Contains(out, `"rows": 121`) {
		t.Errorf("the report does not count it:\n%s", out)
	}
}

// sealedFolder is one that nobody may write to, root included: it lies below a
// file.
func sealedFolder(t *testing.T) string {
	t.Helper()
	return filepath.Join(write(t, "file", ""), "data")
}

func openSecret(t *testing.T) string {
	t.Helper()
	path := write(t, "channel", "https://phone.example/secret")
	if err := os.Chmod(path, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// The example that is shipped has every default in it, and nothing else.
func TestTheShippedConfigurationHoldsTheDefaults(t *testing.T) {
	shipped, err := loadConfig("../../deploy/recoat.toml")
	if err != nil {
		t.Fatal(err)
	}
	want := defaults()
	if fmt.Sprintf("%+v", shipped) != fmt.Sprintf("%+v", want) {
		t.Errorf("shipped\n%+v\nbut the defaults are\n%+v", shipped, want)
	}
}

// A night too cold for the film to form is named, with the minute it began.
func TestReplayNamesWhatHappenedToTheCoat(t *testing.T) {
	var b strings.Builder
	b.WriteString("time,air_c,rh_pct,surface_c\n")
	for m := range 120 {
		surface := 20
		if m >= 30 {
			surface = 2
		}
		fmt.Fprintf(&b, "2026-01-02T%02d:%02d:00Z,20,30,%d\n", 8+m/60, m%60, surface)
	}
	product := strings.Replace(quick, `recoat = "10m"`, `recoat = "4h"`, 1)
	out, errs, code := call(t, "replay", "--product", write(t, "quick.toml", product), "--applied", "2026-01-02T08:00:00Z", write(t, "r.csv", b.String()), "--json")
	if code != 0 || !strings.Contains(out, `"code": "film-cold"`) || !strings.Contains(out, `"from_at": "2026-01-02T08:30:00Z"`) {
		t.Errorf("exit %d, %s\n%s", code, errs, out)
	}
}
