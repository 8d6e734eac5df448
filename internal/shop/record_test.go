package shop

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/sensors"
	"recoat/sensors/calibration"
)

func saltCheck(at time.Time) Calibration {
	return Calibration{Room: "back-room", Calibration: calibration.Calibration{
		Node: "bench", Channel: sensors.Channel{Quantity: sensors.AirHumidity}, From: at, Gain: 1.04, Offset: -1.5, Sigma: 0.9,
		Method: calibration.SaltTwo, Who: "A. Finisher", Due: at.AddDate(1, 0, 0), Note: "MgCl2 and NaCl at 20 °C",
	}}
}

func TestChecksOfSensorsAreKept(t *testing.T) {
	j := furnished(t)
	first, err := j.AddCalibration(t.Context(), saltCheck(evening), evening)
	if err != nil || first.ID != "k-0001" {
		t.Fatal(first, err)
	}
	all, err := j.Calibrations(t.Context())
	if d := cmp.Diff([]Calibration{first}, all); d != "" || err != nil {
		t.Error(d, err)
	}
	if rooms := ByRoom(all); len(rooms["back-room"]) != 1 || rooms["back-room"][0].Gain != 1.04 {
		t.Errorf("by room: %+v", rooms)
	}
	if err := j.UndoCalibration(t.Context(), first.ID, evening.Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	if all, err = j.Calibrations(t.Context()); err != nil || len(all) != 1 || all[0].Undone.IsZero() || len(ByRoom(all)) != 0 {
		t.Errorf("after undoing: %+v, %v", all, err)
	}
	if err := j.UndoCalibration(t.Context(), first.ID, evening.Add(time.Hour)); !asked(err) {
		t.Errorf("undone twice: %v", err)
	}
	if log := changes(t, j, 0); log[len(log)-1].Subject != "k-0001" || !strings.Contains(string(log[len(log)-1].Before), `"gain":1.04`) {
		t.Errorf("the record of changes ends with %s", log[len(log)-1].Before)
	}
}

func TestAnImpossibleCheckIsRefused(t *testing.T) {
	j := furnished(t)
	for what, spoil := range map[string]func(*Calibration){
		"gain":        func(c *Calibration) { c.Gain = 3 },
		"who":         func(c *Calibration) { c.Who = "" },
		"node":        func(c *Calibration) { c.Node = "a\x00b" },
		"room":        func(c *Calibration) { c.Room = "Back Room" },
		"long before": func(c *Calibration) { c.From = time.Date(1969, 1, 1, 0, 0, 0, 0, time.UTC) },
		"the note":    func(c *Calibration) { c.Note = strings.Repeat("x", 100<<10) },
	} {
		c := saltCheck(evening)
		spoil(&c)
		if _, err := j.AddCalibration(t.Context(), c, evening); !asked(err) {
			t.Errorf("%s: %v", what, err)
		}
	}
}

func TestDefectsAreKept(t *testing.T) {
	j := furnished(t)
	coat := apply(t, j, "p-0001.1", evening)
	d := Defect{Coat: coat.ID, Seen: evening.Add(9 * time.Hour), Kind: "blushing", Place: "left end, along the edge", Photo: strings.Repeat("ab", 32)}
	kept, err := j.AddDefect(t.Context(), d, evening.Add(10*time.Hour))
	if err != nil || kept.ID != "d-0001" {
		t.Fatal(kept, err)
	}
	for _, of := range []string{"", coat.ID} {
		all, err := j.Defects(t.Context(), of)
		if diff := cmp.Diff([]Defect{kept}, all); diff != "" || err != nil {
			t.Error(diff, err)
		}
	}
	for what, spoil := range map[string]func(*Defect){
		"kind":   func(d *Defect) { d.Kind = "=HYPERLINK()" },
		"photo":  func(d *Defect) { d.Photo = "../../secret" },
		"before": func(d *Defect) { d.Seen = evening.Add(-time.Hour) },
		"place":  func(d *Defect) { d.Place = "a\nb" },
	} {
		bad := d
		spoil(&bad)
		if _, err := j.AddDefect(t.Context(), bad, evening.Add(10*time.Hour)); !asked(err) {
			t.Errorf("%s: %v", what, err)
		}
	}
	if err := j.UndoDefect(t.Context(), kept.ID, evening.Add(11*time.Hour)); err != nil {
		t.Fatal(err)
	}
	if all, err := j.Defects(t.Context(), coat.ID); err != nil || len(all) != 0 {
		t.Errorf("after undoing: %+v, %v", all, err)
	}
}

// A row stays the same text when a version adds columns to its table.
func TestRowsSayTheSameAfterColumnsAreAdded(t *testing.T) {
	texts := func(j *Journal) map[string]string {
		all := map[string]string{}
		_, err := j.EveryRow(t.Context(), func(r Row) error { all[r.Table+" "+r.Key] = string(r.Values); return nil })
		if err != nil {
			t.Fatal(err)
		}
		return all
	}
	j := furnished(t)
	apply(t, j, "p-0001.1", evening)
	before := texts(j)
	if _, err := j.db.Write.Exec(`ALTER TABLE coat ADD COLUMN sheen TEXT NOT NULL DEFAULT ''; ALTER TABLE coat ADD COLUMN gloss INTEGER; ALTER TABLE piece ADD COLUMN legs REAL NOT NULL DEFAULT 0`); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(before, texts(j)); d != "" || len(before) < 8 {
		t.Error(d)
	}
	if _, err := j.db.Write.Exec(`UPDATE coat SET gloss = 0`); err != nil {
		t.Fatal(err)
	}
	if cmp.Diff(before, texts(j)) == "" {
		t.Error("a value put into a new column goes unseen")
	}
}
