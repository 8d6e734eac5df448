package main

import (
	"errors"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"recoat/internal/access"
	"recoat/internal/shop"
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

// Damaged accounts let nobody in: the backup's people come back, and without a
// backup the shop has no owner and opens by the code of the terminal alone.
func TestDamagedAccountsLetNobodyIn(t *testing.T) {
	for _, backed := range []bool{true, false} {
		data := dataConfig{Folder: t.TempDir()}
		f := folder(data.Folder)
		book, err := access.Open(t.Context(), access.Options{Path: f.accounts()})
		if err != nil {
			t.Fatal(err)
		}
		if err := errors.Join(book.Add(t.Context(), "mara", access.Owner, "a quiet drying room"), book.Close()); err != nil {
			t.Fatal(err)
		}
		now := time.Now()
		if backed {
			if err := data.keeper(f).Backup(t.Context(), now); err != nil {
				t.Fatal(err)
			}
		}
		if err := os.WriteFile(f.accounts(), []byte(strings.Repeat("not a database ", 2000)), 0o600); err != nil {
			t.Fatal(err)
		}
		var said []string
		if err := mend(t.Context(), data.keeper(f), func(what string) { said = append(said, what) }); err != nil {
			t.Fatal(err)
		}
		if len(said) != 1 || !strings.Contains(said[0], "the file of accounts was found damaged and set aside") || !strings.Contains(said[0], "recoat people list") {
			t.Errorf("backed %v: said %q", backed, said)
		}
		if aside, err := filepath.Glob(filepath.Join(string(f), "damaged", "*", "access.db")); err != nil || len(aside) != 1 {
			t.Errorf("backed %v: kept aside: %v, %v", backed, aside, err)
		}
		if book, err = access.Open(t.Context(), access.Options{Path: f.accounts()}); err != nil {
			t.Fatal(err)
		}
		if claimed, err := book.Claimed(t.Context()); err != nil || claimed != backed {
			t.Errorf("backed %v: has an owner %v, %v", backed, claimed, err)
		}
		_, wrong := book.LogIn(t.Context(), "192.0.2.9", "mara", "a guess at the word")
		_, right := book.LogIn(t.Context(), "192.0.2.9", "mara", "a quiet drying room")
		if wrong == nil || (right == nil) != backed {
			t.Errorf("backed %v: a wrong password %v, the right one %v", backed, wrong, right)
		}
		if _, err := book.Claim(t.Context(), "192.0.2.9", "", "intruder", "a quiet drying room"); err == nil {
			t.Errorf("backed %v: claimed without the code", backed)
		}
		if err := book.Close(); err != nil {
			t.Fatal(err)
		}
	}
}

// A stretch is kept for a coat that was noted in time, in the room in which its
// part was then, and whole.
func TestWhichDaysAreKeptForACoat(t *testing.T) {
	day := time.Date(2031, 5, 4, 0, 0, 0, 0, time.UTC)
	c := shop.Coat{Room: "attic", Applied: day.Add(30 * time.Hour), Recorded: day.Add(31 * time.Hour)}
	late := c
	late.Recorded = day.Add(keepReadings + 48*time.Hour)
	still := []shop.Stay{{From: c.Applied, Room: "attic"}}
	moved := []shop.Stay{still[0], {From: day.AddDate(0, 0, 3), Room: "loft"}, {From: day.AddDate(0, 0, 6)}, {From: day.AddDate(0, 0, 8), Room: "attic"}}
	for what, x := range map[string]struct {
		coat  shop.Coat
		stays []shop.Stay
		room  string
		day   time.Time
		want  bool
	}{
		"the day of it":                        {c, still, "attic", day.AddDate(0, 0, 1), true},
		"the day after":                        {c, still, "attic", day.AddDate(0, 0, 2), true},
		"a day partly before":                  {c, still, "attic", day, false},
		"a year later":                         {c, still, "attic", day.AddDate(1, 0, 0), false},
		"another room":                         {c, still, "loft", day.AddDate(0, 0, 1), false},
		"where it was put on, before it moved": {c, moved, "attic", day.AddDate(0, 0, 2), true},
		"where it was put on, after it moved":  {c, moved, "attic", day.AddDate(0, 0, 4), false},
		"where it moved to":                    {c, moved, "loft", day.AddDate(0, 0, 4), true},
		"where it moved to, after it left":     {c, moved, "loft", day.AddDate(0, 0, 9), false},
		"where it came back":                   {c, moved, "attic", day.AddDate(0, 0, 9), true},
		"noted when it was let go":             {late, still, "attic", day.AddDate(0, 0, 1), false},
	} {
		of := []kept{{x.coat.Recorded, evidence(x.coat, x.stays)}}
		if got := keptFor(of, keepReadings, x.room, x.day, x.day.AddDate(0, 0, 1)); got != x.want {
			t.Errorf("%s: kept %v", what, got)
		}
	}
}
