package seal

import (
	"context"
	"database/sql"
	"fmt"
	"log/slog"
	"math"
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

// A round without a set clock that is on no day any more was taken out, however
// its day is looked at. One that went to another day was not.
func TestARoundWithoutAClockThatIsNowhereIsGone(t *testing.T) {
	b := newBench(t)
	const boot = "77"
	for n := range 6 { // four of the day before, by a clock that nobody had set
		r := round("bench", boot, n)
		if n < 4 {
			r.ClockSet, r.Time = false, r.Time.Add(-24*time.Hour)
		}
		b.add(t, r)
	}
	b.seal(t)
	b.add(t, round("bench", boot, 0), round("bench", boot, 1), round("bench", boot, 2)) // their clock is set now
	raw := b.raw(t, "readings.db")
	result, err := raw.Exec(`DELETE FROM round WHERE at < ?`, firstDay.UnixMilli())
	if err != nil {
		t.Fatal(err)
	}
	if n, err := result.RowsAffected(); n != 1 || err != nil {
		t.Fatalf("%d taken out, %v", n, err)
	}
	day := DayOf(firstDay.Add(-24 * time.Hour))
	want := Problem{"attic", day, "round 4 of bench (boot 77)", "is gone"}
	f := b.verify(t)
	if len(f.Problems) != 1 || f.Problems[0] != want || !strings.Contains(fmt.Sprint(f.Notes), "the clock of 3 rounds was set since") {
		t.Errorf("%+v", f)
	}
	late := round("late", "e0", 0) // so that the day is sealed anew
	late.Time = late.Time.Add(-20 * time.Hour)
	b.add(t, late)
	b.now = b.now.Add(time.Hour)
	b.seal(t)
	f = b.verify(t)
	if len(f.Problems) != 1 || f.Problems[0].Day != day || !strings.HasPrefix(f.Problems[0].Record, "round 4 of bench (boot 77) is gone") {
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
