package seal

import (
	"database/sql"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"recoat/internal/store/sqlite"
)

// victim is one value of one row that is about to be altered.
type victim struct {
	file, table, key, column string
	names                    []string // any of them names the record
	day                      string
}

// draw picks a row and a column by chance.
func draw(t *testing.T, random *rand.Rand, raw map[string]*sql.DB) victim {
	t.Helper()
	tables := []victim{
		{file: "readings.db", table: "round", key: "id"}, {file: "readings.db", table: "round", key: "id"},
		{file: "journal.db", table: "coat", key: "id"}, {file: "journal.db", table: "calibration", key: "id"},
		{file: "journal.db", table: "touch", key: "id"}, {file: "journal.db", table: "change", key: "seq"},
	}
	columns := map[string][]string{
		"round":       {"id", "at", "data", "data", "data", "data"},
		"coat":        {"piece", "part", "product", "version", "room", "applied", "film_um", "method", "batch", "mix", "recorded", "undone", "abraded", "note"},
		"calibration": {"room", "node", "channel", "since", "gain", "offset", "sigma", "method", "who", "due", "note", "added", "undone"},
		"touch":       {"coat", "at", "feel"},
		"change":      {"at", "what", "subject", "before", "after"},
	}
	v := tables[random.IntN(len(tables))]
	v.column = columns[v.table][random.IntN(len(columns[v.table]))]
	var id int64
	if err := raw[v.file].QueryRow(fmt.Sprintf(`SELECT %s FROM "%s" ORDER BY random() LIMIT 1`, v.key, v.table)).Scan(&id); err != nil {
		t.Fatal(err)
	}
	switch v.table {
	case "round":
		var at int64
		if err := raw[v.file].QueryRow(`SELECT at FROM round WHERE id = ?`, id).Scan(&at); err != nil {
			t.Fatal(err)
		}
		seq := id & (1<<42 - 1)
		v.day = DayOf(time.UnixMilli(at))
		v.names = []string{fmt.Sprintf("round %d of ", seq), "the round of plug at " + time.UnixMilli(seq).UTC().Format(time.RFC3339), fmt.Sprintf("round %d: ", id)}
	case "change":
		v.names = []string{fmt.Sprintf("change %d ", id)}
	default:
		v.names = []string{v.table + " " + rowKey{v.table, fmt.Sprint(id)}.id(letters[v.table])}
	}
	v.key = fmt.Sprintf("%s = %d", v.key, id)
	return v
}

// alter changes one byte, or one bit of a number, and returns how to put it
// back. It is nil where the file does not take the change or it changes nothing.
func (v victim) alter(db *sql.DB, random *rand.Rand) (undo func() error) {
	var old any
	var kind string
	where := fmt.Sprintf(`FROM "%s" WHERE %s`, v.table, v.key)
	if db.QueryRow(fmt.Sprintf(`SELECT "%s", typeof("%s") %s`, v.column, v.column, where)).Scan(&old, &kind) != nil {
		return nil
	}
	changed := alterValue(old, random)
	if changed == nil {
		return nil
	}
	into := "?"
	if kind == "text" {
		into = "CAST(? AS TEXT)"
		changed = []byte(changed.(string))
	}
	key := v.key
	if _, err := db.Exec(fmt.Sprintf(`UPDATE "%s" SET "%s" = %s WHERE %s`, v.table, v.column, into, v.key), changed); err != nil {
		return nil
	}
	if v.column == "id" {
		key = fmt.Sprintf("id = %d", changed)
	}
	return func() error {
		if kind == "text" {
			old = []byte(old.(string))
		}
		_, err := db.Exec(fmt.Sprintf(`UPDATE "%s" SET "%s" = %s WHERE %s`, v.table, v.column, into, key), old)
		return err
	}
}

func alterValue(old any, random *rand.Rand) any {
	bytes := func(b []byte) []byte {
		if len(b) == 0 {
			return nil
		}
		b = append([]byte(nil), b...)
		b[random.IntN(len(b))] ^= byte(1 + random.IntN(255))
		return b
	}
	switch old := old.(type) {
	case int64:
		return old ^ 1<<random.IntN(42)
	case float64:
		if f := math.Float64frombits(math.Float64bits(old) ^ 1<<random.IntN(64)); f != old && !math.IsNaN(f) {
			return f
		}
	case string:
		if b := bytes([]byte(old)); b != nil {
			return string(b)
		}
	case []byte:
		if b := bytes(old); b != nil {
			return b
		}
	}
	return nil
}

// Each of a thousand changes of a byte of a reading, a calibration, a coat, a
// touch test or the record of changes is found, with its day and record.
func TestAThousandChangesAreFoundAndNamed(t *testing.T) {
	b := newBench(t)
	b.fill(t)
	b.seal(t)
	raw := map[string]*sql.DB{"readings.db": b.raw(t, "readings.db"), "journal.db": b.raw(t, "journal.db")}
	const seed = 20310504
	random := rand.New(rand.NewPCG(seed, seed))
	missed := 0
	for tried := 0; tried < 1000; {
		v := draw(t, random, raw)
		undo := v.alter(raw[v.file], random)
		if undo == nil {
			continue
		}
		tried++
		f := b.verify(t)
		if !v.named(f) {
			missed++
			t.Errorf("change %d: %s.%s where %s of %s is not named: %+v", tried, v.table, v.column, v.key, v.day, f.Problems)
		}
		if err := undo(); err != nil {
			t.Fatal(err)
		}
		if missed > 5 {
			t.Fatal("and more")
		}
	}
	if f := b.verify(t); !f.OK() {
		t.Errorf("after all was put back: %+v", f.Problems)
	}
}

func (v victim) named(f Finding) bool {
	for _, p := range f.Problems {
		for _, name := range v.names {
			if strings.Contains(p.String()+" ", name) && (v.day == "" || p.Day == v.day) {
				return true
			}
		}
	}
	return false
}

// packed brings all rounds into segments, as the store does with old ones.
func (b *bench) packed(t testing.TB) {
	t.Helper()
	if err := b.readings.Pack(t.Context(), firstDay.Add(240*time.Hour)); err != nil {
		t.Fatal(err)
	}
}

// A store that packs its rounds still verifies, and a byte changed in a packed
// block is found, with its day and the block's first round.
func TestPackedRoundsVerifyAndTheirChangesAreFound(t *testing.T) {
	b := newBench(t)
	b.fill(t)
	b.seal(t)
	b.packed(t)
	if f := b.verify(t); !f.OK() || len(f.Notes) != 0 {
		t.Fatalf("%+v", f)
	}
	raw := b.raw(t, "readings.db")
	random := rand.New(rand.NewPCG(4, 5))
	for n := range 100 {
		var id int64
		var data []byte
		if err := raw.QueryRow(`SELECT id, data FROM segment ORDER BY random() LIMIT 1`).Scan(&id, &data); err != nil {
			t.Fatal(err)
		}
		if _, err := raw.Exec(`UPDATE segment SET data = ? WHERE id = ?`, alterValue(data, random), id); err != nil {
			t.Fatal(err)
		}
		f := b.verify(t)
		if f.OK() || f.Problems[0].Day == "" || !strings.Contains(f.Problems[0].String(), fmt.Sprintf("the segment of round %d:", id)) {
			t.Errorf("change %d of segment %d: %+v", n, id, f.Problems)
		}
		if _, err := raw.Exec(`UPDATE segment SET data = ? WHERE id = ?`, data, id); err != nil {
			t.Fatal(err)
		}
	}
}

// What the store lets go of for its age is no alteration; what is changed of
// such days still is.
func TestOldReadingsThatAreLetGoAreNoAlteration(t *testing.T) {
	b := newBench(t)
	b.fill(t)
	b.seal(t)
	if _, err := b.raw(t, "readings.db").Exec(`DELETE FROM round WHERE id IN (SELECT id FROM round ORDER BY id LIMIT 20)`); err != nil {
		t.Fatal(err)
	}
	if f := b.verify(t); f.OK() {
		t.Error("twenty rounds are gone, and it verifies")
	}
	v := Verifier{Log: b.sealer.Log, Readings: b.readings, Journal: b.journal, Since: Since(firstDay.Add(500*24*time.Hour), 400*24*time.Hour)}
	f, err := v.All(t.Context())
	if err != nil || !f.OK() || len(f.Notes) != 1 || !strings.Contains(f.Notes[0], "let go of 20 of its 144 rounds") {
		t.Errorf("%+v, %v", f, err)
	}
	if _, err := b.raw(t, "readings.db").Exec(`UPDATE round SET at = at + 1 WHERE id = (SELECT max(id) FROM round)`); err != nil {
		t.Fatal(err)
	}
	if f, err := v.All(t.Context()); err != nil || f.OK() {
		t.Errorf("a change of an old day: %+v, %v", f, err)
	}
}

// The store clears old days away but for what a coat's record needs. What it let
// go of is told from what somebody took out of a day that it keeps.
func TestWhatTheStoreThinnedIsLetGoOf(t *testing.T) {
	b := newBench(t)
	b.fill(t)
	for n := range 40 { // of the first day alone, half of them before its clock was set
		r := round("porch", "7e", n)
		r.ClockSet = n >= 20
		b.add(t, r)
	}
	b.seal(t)
	const keep = 400 * 24 * time.Hour
	later, second := firstDay.Add(500*24*time.Hour), firstDay.Add(24*time.Hour)
	if gone, err := b.readings.Thin(t.Context(), later.Add(-keep), []sqlite.Span{{Room: "attic", From: second, To: second.Add(24 * time.Hour)}}); err != nil || gone == 0 {
		t.Fatalf("%d blocks, %v", gone, err)
	}
	v := Verifier{
		Log: b.sealer.Log, Readings: b.readings, Journal: b.journal, Since: Since(later, keep),
		Kept: func(room string, from, to time.Time) bool { return room == "attic" && !from.Before(second) },
	}
	verify := func() Finding {
		t.Helper()
		f, err := v.All(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	if f := verify(); !f.OK() || len(f.Notes) != 1 || !strings.Contains(f.Notes[0], "the store has let go of") || !strings.Contains(f.Notes[0], DayOf(firstDay)) {
		t.Errorf("thinned: %+v", f)
	}
	raw := b.raw(t, "readings.db")
	if _, err := raw.Exec(`UPDATE round SET data = zeroblob(length(data)) WHERE id = (SELECT min(id) FROM round)`); err != nil {
		t.Fatal(err)
	}
	if f := verify(); len(f.Problems) == 0 || f.Problems[0].Day != DayOf(firstDay) {
		t.Errorf("altered in the thinned day: %+v", f)
	}
	if _, err := raw.Exec(`DELETE FROM round WHERE at >= ? AND id >> 42 = (SELECT min(id) >> 42 FROM round)`, second.Add(12*time.Hour).UnixMilli()); err != nil {
		t.Fatal(err)
	}
	gone := 0
	for _, p := range verify().Problems {
		if p.Day == DayOf(second) && p.What == "is gone" {
			gone++
		}
	}
	if gone != 24 {
		t.Errorf("%d of the 24 rounds taken out of the day that is kept are named", gone)
	}
}
