package main

import (
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"recoat/internal/sqldb"
	"recoat/internal/store/sqlite"
	"recoat/sensors"
)

// A hub that finds its readings damaged comes up on the backup, keeps what was
// damaged, and says on the page what is lost.
func TestADamagedFileIsSaidOnThePage(t *testing.T) {
	path, data := writeConfig(t, "http://127.0.0.1:9/phone")
	f := folder(filepath.Join(data, "simulated"))
	s, err := sqlite.Open(t.Context(), f.readings())
	if err != nil {
		t.Fatal(err)
	}
	now := time.Now()
	r := sensors.Round{Node: "bench", Boot: "b1", Seq: 1, Time: now.Add(-time.Hour), ClockSet: true, Readings: []sensors.Reading{{Channel: sensors.Channel{Quantity: sensors.AirTemperature}, Value: 19}}}
	if err := s.Append(t.Context(), "back-room", []sensors.Round{r}); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	var out, errs strings.Builder
	if code := run(t.Context(), []string{"backup", "list", "--config", path}, &out, &errs); code != 0 || !strings.Contains(out.String(), "no backup yet") {
		t.Fatalf("exit %d: %s%s", code, out.String(), errs.String())
	}
	if err := f.keeper().Backup(t.Context(), now); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(f.readings(), make([]byte, 20000), 0o600); err != nil {
		t.Fatal(err)
	}
	url := startForAddress(t, "up", "--simulate", "--config", path)
	answer, err := http.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	page, err := io.ReadAll(answer.Body)
	if err != nil || !strings.Contains(string(page), "the file of readings was found damaged and set aside") || !strings.Contains(string(page), "is lost, but for readings that their nodes had not yet let go of") {
		t.Errorf("the page does not say so: %v\n%s", err, page)
	}
	aside, err := filepath.Glob(filepath.Join(string(f), "damaged", "*", "readings.db"))
	if err != nil || len(aside) != 1 {
		t.Errorf("kept aside: %v, %v", aside, err)
	}
	if err := sqldb.Check(t.Context(), f.readings()); err != nil {
		t.Error(err)
	}
}
