package seal

import (
	"context"
	"database/sql"
	"fmt"
	"log/slog"
	"math"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"
	"time"

	_ "modernc.org/sqlite"

	"recoat/internal/shop"
	"recoat/internal/store/sqlite"
	"recoat/sensors"
	"recoat/sensors/calibration"
)

var firstDay = time.Date(2031, 5, 4, 0, 0, 0, 0, time.UTC)

// bench is a store and a journal with their seals, and the paths of the files.
type bench struct {
	readings *sqlite.Store
	journal  *shop.Journal
	sealer   *Sealer
	folder   string
	now      time.Time
}

func newBench(t testing.TB) *bench {
	t.Helper()
	b := &bench{folder: t.TempDir(), now: firstDay.Add(72 * time.Hour)}
	var err error
	if b.readings, err = sqlite.Open(t.Context(), b.path("readings.db")); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = b.readings.Close() })
	if b.journal, err = shop.OpenJournal(t.Context(), b.path("journal.db")); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = b.journal.Close() })
	log, err := OpenLog(t.Context(), b.path("seals.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = log.Close() })
	b.sealer = &Sealer{Log: log, Readings: b.readings, Journal: b.journal, Now: func() time.Time { return b.now }, Report: slog.New(slog.DiscardHandler)}
	return b
}

func (b *bench) path(name string) string { return filepath.Join(b.folder, name) }

// round is the n-th of a node, half an hour after the one before.
func round(node, boot string, n int) sensors.Round {
	r := sensors.Round{
		Node: node, Boot: boot, Seq: uint64(n + 1), ClockSet: true, Uptime: time.Duration(n) * 30 * time.Minute,
		Time: firstDay.Add(time.Duration(n) * 30 * time.Minute),
		Readings: []sensors.Reading{
			{Channel: sensors.Channel{Quantity: sensors.AirTemperature}, Value: 16 + 3*math.Sin(float64(n)/20)},
			{Channel: sensors.Channel{Quantity: sensors.AirHumidity}, Value: 60 - 5*math.Sin(float64(n)/20)},
			{Channel: sensors.Channel{Quantity: sensors.SurfaceTemperature, Probe: "top"}, Value: 15, Quality: sensors.Quality(n % 7 / 6)},
		},
	}
	if boot == "" {
		r.Seq, r.Uptime, r.Time = 0, 0, r.Time.Add(17*time.Millisecond)
	}
	return r
}

func (b *bench) add(t testing.TB, rounds ...sensors.Round) {
	t.Helper()
	if err := b.readings.Append(t.Context(), "attic", rounds); err != nil {
		t.Fatal(err)
	}
}

// fill adds two days of two nodes and of a device without seqs, and a journal.
func (b *bench) fill(t testing.TB) {
	t.Helper()
	for n := range 2 * 48 {
		b.add(t, round("bench", "4a7c", n), round("door", "91", n), round("plug", "", n))
	}
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	label, err := shop.LoadProduct(strings.NewReader("name = \"Quiet coat\"\nfamily = \"waterborne\"\nkind = \"acrylic\"\n[stated]\nair = \"23C\"\nrh = 50\nrecoat = \"2h\"\n"), "quiet.toml")
	must(err)
	must(b.journal.AddRoom(t.Context(), shop.Room{ID: "attic", Title: "Attic"}, firstDay))
	_, err = b.journal.PutProduct(t.Context(), label, firstDay)
	must(err)
	_, err = b.journal.AddPiece(t.Context(), shop.Piece{Name: "Dresser", Parts: []shop.Part{{Name: "top", Room: "attic"}, {Name: "sides", Room: "attic"}}}, firstDay)
	must(err)
	for i := range 4 {
		at := firstDay.Add(time.Duration(i) * time.Hour)
		c, err := b.journal.ApplyCoat(t.Context(), shop.Application{Part: "p-0001.1", Product: "f-0001", Applied: at, Film: 110, Batch: "B7"}, at)
		must(err)
		_, err = b.journal.AddTouch(t.Context(), shop.Touch{Coat: c.ID, At: at.Add(time.Minute), Feel: shop.Wet}, at.Add(time.Minute))
		must(err)
		_, err = b.journal.AddCalibration(t.Context(), shop.Calibration{Room: "attic", Calibration: calibration.Calibration{
			Node: "bench", Channel: sensors.Channel{Quantity: sensors.AirHumidity}, From: at, Gain: 1.02, Offset: -0.7, Sigma: 0.9,
			Method: calibration.SaltTwo, Who: "A. Finisher", Due: at.AddDate(1, 0, 0),
		}}, at)
		must(err)
	}
}

func (b *bench) seal(t testing.TB) {
	t.Helper()
	if err := b.sealer.Due(t.Context()); err != nil {
		t.Fatal(err)
	}
}

func (b *bench) verify(t testing.TB) Finding {
	t.Helper()
	f, err := Verifier{Log: b.sealer.Log, Readings: b.readings, Journal: b.journal}.All(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// raw opens a file past everything that guards it.
func (b *bench) raw(t testing.TB, name string) *sql.DB {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+b.path(name)+"?_pragma=busy_timeout(5000)")
	if err != nil {
		t.Fatal(err)
	}
	db.SetMaxOpenConns(1)
	t.Cleanup(func() { _ = db.Close() })
	if _, err := db.Exec(`DROP TRIGGER IF EXISTS change_kept; DROP TRIGGER IF EXISTS change_whole; DROP TRIGGER IF EXISTS link_kept; DROP TRIGGER IF EXISTS link_whole`); err != nil {
		t.Fatal(err)
	}
	return db
}

func TestAnUntouchedStoreVerifies(t *testing.T) {
	b := newBench(t)
	b.fill(t)
	b.seal(t)
	f := b.verify(t)
	if !f.OK() || f.Days != 2 || f.Rounds != 3*96 || f.Seals != 3 || f.Rows < 20 || len(f.Notes) != 0 {
		t.Errorf("%+v", f)
	}
	b.seal(t)
	if again := b.verify(t); again.Seals != 3 {
		t.Errorf("sealing what is sealed made %d seals", again.Seals)
	}
}

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

func TestLateRoundsAreSealedAnewAndSaid(t *testing.T) {
	b := newBench(t)
	b.fill(t)
	b.seal(t)
	b.add(t, round("bench", "4a7c", 1), round("late", "e0", 5), round("late", "e0", 6)) // one doubled, two new
	if f := b.verify(t); !f.OK() || len(f.Notes) != 1 || !strings.Contains(f.Notes[0], "2 rounds came since") {
		t.Errorf("before sealing: %+v", f)
	}
	b.now = b.now.Add(time.Hour)
	b.seal(t)
	f := b.verify(t)
	if !f.OK() || f.Seals != 4 || len(f.Notes) != 1 || !strings.Contains(f.Notes[0], "2 rounds came after the day had been sealed") {
		t.Errorf("after sealing: %+v", f)
	}
}

func TestAnAlterationStaysVisibleWhenTheDayIsSealedAnew(t *testing.T) {
	b := newBench(t)
	b.fill(t)
	b.seal(t)
	raw := b.raw(t, "readings.db")
	if _, err := raw.Exec(`UPDATE round SET at = at + 1000 WHERE id = (SELECT min(id) + 3 FROM round)`); err != nil {
		t.Fatal(err)
	}
	b.add(t, round("late", "e0", 5)) // so that the day is sealed anew
	b.seal(t)
	f := b.verify(t)
	if f.OK() || !strings.Contains(f.Problems[0].Record, "round 4 of bench") {
		t.Errorf("%+v", f)
	}
}

func TestARoundWhoseClockIsSetAfterwardsIsNoAlteration(t *testing.T) {
	b := newBench(t)
	unset := round("bench", "77", 3)
	unset.ClockSet, unset.Time = false, firstDay.Add(-30*24*time.Hour)
	b.add(t, unset, round("bench", "77", 4))
	b.seal(t)
	b.add(t, round("bench", "77", 3))
	if f := b.verify(t); !f.OK() || len(f.Notes) == 0 {
		t.Errorf("%+v", f)
	}
	b.seal(t)
	if f := b.verify(t); !f.OK() {
		t.Errorf("sealed anew: %+v", f)
	}
}

func TestTheJournalMayGrowButNotSilently(t *testing.T) {
	b := newBench(t)
	b.fill(t)
	b.seal(t)
	at := firstDay.Add(100 * time.Hour)
	if err := b.journal.UndoCoat(t.Context(), "c-0002", at); err != nil {
		t.Fatal(err)
	}
	if _, err := b.journal.AddTouch(t.Context(), shop.Touch{Coat: "c-0001", At: at, Feel: shop.Dry}, at); err != nil {
		t.Fatal(err)
	}
	if f := b.verify(t); !f.OK() || len(f.Notes) != 1 || !strings.Contains(f.Notes[0], "coat c-0002") || !strings.Contains(f.Notes[0], "touch t-0005") {
		t.Errorf("told changes: %+v", f)
	}
	raw := b.raw(t, "journal.db")
	if _, err := raw.Exec(`UPDATE coat SET film_um = 90 WHERE id = 3`); err != nil {
		t.Fatal(err)
	}
	b.seal(t)
	f := b.verify(t)
	if f.OK() || !strings.Contains(f.Problems[0].Record, "coat c-0003") {
		t.Errorf("a silent change that was sealed over: %+v", f)
	}
}

func TestTheChainNamesASealThatWasAlteredOrTakenOut(t *testing.T) {
	for what, do := range map[string]string{
		"altered":   `UPDATE link SET text = replace(text, '"count":144', '"count":143') WHERE seq = 1`,
		"taken out": `DELETE FROM marks WHERE seq = 2; DELETE FROM link WHERE seq = 2`,
		"the end":   `UPDATE link SET text = replace(text, '"room":"attic"', '"room":"cellar"') WHERE seq = 2`,
	} {
		b := newBench(t)
		b.fill(t)
		b.seal(t)
		if f := b.verify(t); !f.OK() {
			t.Fatal(f)
		}
		if _, err := b.raw(t, "seals.db").Exec(do); err != nil {
			t.Fatal(err)
		}
		f := b.verify(t)
		if f.OK() || !strings.Contains(fmt.Sprint(f.Problems), "seal ") {
			t.Errorf("%s: %+v", what, f.Problems)
		}
	}
}

func TestRunEndsWithItsContext(t *testing.T) {
	b := newBench(t)
	b.fill(t)
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- b.sealer.Run(ctx) }()
	for f := b.verify(t); f.Seals < 3; f = b.verify(t) {
		time.Sleep(5 * time.Millisecond)
	}
	cancel()
	if err := <-done; err != nil {
		t.Error(err)
	}
}

func BenchmarkSealDay(b *testing.B) {
	bench := newBench(b)
	var rounds []sensors.Round
	for n := range 8640 {
		r := round("bench", "4a7c", n)
		r.Time = firstDay.Add(time.Duration(n) * 10 * time.Second)
		rounds = append(rounds, r)
	}
	bench.add(b, rounds...)
	for b.Loop() {
		if _, _, err := readDay(b.Context(), bench.readings, "attic", DayOf(firstDay)); err != nil {
			b.Fatal(err)
		}
	}
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
	if err != nil || !f.OK() || len(f.Notes) != 1 || !strings.Contains(f.Notes[0], "20 of its 144 rounds are older") {
		t.Errorf("%+v, %v", f, err)
	}
	if _, err := b.raw(t, "readings.db").Exec(`UPDATE round SET at = at + 1 WHERE id = (SELECT max(id) FROM round)`); err != nil {
		t.Fatal(err)
	}
	if f, err := v.All(t.Context()); err != nil || f.OK() {
		t.Errorf("a change of an old day: %+v, %v", f, err)
	}
}
