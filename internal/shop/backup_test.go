package shop

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"math/big"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/internal/shop/compat"
	"recoat/internal/shop/mix"
	"recoat/internal/shop/schedule"
	"recoat/internal/sqldb"
)

// oilOfTwo is an oil whose label has a table of two rows.
const oilOfTwo = `
name = "Long Field oil"
family = "oxidising"
kind = "oil"
[stated]
air = "20C"
rh = 50
recoat = "12h"
also = [{air = "10C", rh = 50, recoat = "24h"}]
`

// lived returns a journal in which everything has happened that can.
func lived(t *testing.T) *Journal {
	t.Helper()
	j := furnished(t)
	ctx := t.Context()
	limits := load(t, quietHarbour).Limits
	check := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	check(j.AddRoom(ctx, Room{ID: "attic", Title: "<Attic> & \"loft\"", Limits: &limits}, evening))
	_, err := j.PutProduct(ctx, load(t, strings.Replace(quietHarbour, `recoat = "2h"`, `recoat = "4h"`, 1)), evening)
	check(err)
	m, err := j.AddMix(ctx, mix.Recipe{Name: "Harbour grey", Basis: mix.ByVolume, Parts: []mix.Part{
		{Name: "base", Share: big.NewRat(3, 1)}, {Name: "black", Share: big.NewRat(1, 3)}}}, evening)
	check(err)
	can, err := j.AddCan(ctx, Can{Product: "f-0001", Batch: "B7", LeftML: 750.1, KeepsDays: 180}, evening)
	check(err)
	check(j.OpenCan(ctx, can.ID, evening, evening))
	c, err := j.ApplyCoat(ctx, Application{Part: "p-0001.1", Product: "f-0001", Applied: evening, Film: 101.6, Method: Brush, Recipe: m.ID, Can: can.ID, UsedML: 33.3, Abraded: true, Note: "a patch held"}, evening)
	check(err)
	undone := apply(t, j, "p-0001.2", evening.Add(time.Hour))
	check(j.UndoCoat(ctx, undone.ID, evening.Add(2*time.Hour)))
	check(j.PlacePart(ctx, "p-0001.2", "attic", "", evening.Add(2*time.Hour)))
	check(j.MeasureCan(ctx, can.ID, 700, evening.Add(2*time.Hour)))
	_, err = j.AddTouch(ctx, Touch{Coat: c.ID, At: evening.Add(time.Hour), Feel: Tacky}, evening.Add(2*time.Hour))
	check(err)
	livedSince(t, j, c.ID)
	return j
}

// livedSince adds what a journal holds beside its rooms, coats and cans.
func livedSince(t *testing.T, j *Journal, coat string) {
	t.Helper()
	ctx, later := t.Context(), evening.Add(2*time.Hour)
	check := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	wrong, err := j.AddTouch(ctx, Touch{Coat: coat, At: evening.Add(time.Hour), Feel: Dry}, later)
	check(err)
	check(j.UndoTouch(ctx, wrong.ID, later))
	check(j.SetSchedule(ctx, "p-0001.2", "painted-bare", []schedule.Step{{Kind: schedule.Sand, Grits: []int{150}}, {Kind: schedule.Stain}}, evening))
	check(j.TickStep(WithTap(ctx, Tap{ID: "phone-0001", Made: evening, Who: "Ada Example"}), "p-0001.2", 1, evening, false, evening))
	_, err = j.AddMoisture(ctx, Moisture{Part: "p-0001.2", At: evening, WoodPct: 8.5, DepthMM: 4, Note: "set to oak"}, evening)
	check(err)
	oil, err := j.PutProduct(ctx, load(t, oilOfTwo), evening)
	check(err)
	oiled, err := j.ApplyCoat(ctx, Application{Part: "p-0001.2", Product: oil.ID, Applied: later, FilmLeast: 25, FilmMost: 50, Reason: "held", Warned: "a\nb", ThinnedPct: 5, AreaM2: 1.2, Over: compat.OilStain}, later)
	check(err)
	check(j.TickReminder(ctx, oiled.ID, later))
	_, err = j.EditCoat(ctx, oiled.ID, CoatEdit{Note: of("thin")}, later)
	check(err)
	_, err = j.EditPiece(ctx, "p-0001", PieceEdit{Note: of("from the attic"), Client: of("collects on Friday")}, later)
	check(err)
	check(j.Archive(ctx, oil.ID, later))
}

func backedUp(t *testing.T, j *Journal) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := j.Backup(t.Context(), &b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestARestoredJournalGivesTheSameBackup(t *testing.T) {
	j := lived(t)
	want := backedUp(t, j)
	if !json.Valid(want) || !bytes.Equal(want, backedUp(t, j)) {
		t.Error("a second backup differs from the first, or is not JSON")
	}
	path := filepath.Join(t.TempDir(), "an empty machine", "journal.db")
	if err := RestoreJournal(t.Context(), path, bytes.NewReader(want)); err != nil {
		t.Fatal(err)
	}
	restored := open(t, path)
	if got := backedUp(t, restored); !bytes.Equal(got, want) {
		t.Errorf("restored:\n%s\nbut it was\n%s", got, want)
	}
	for _, table := range []string{"room", "product", "piece", "part", "coat", "touch", "change", "mix", "mix_part", "can", "schedule", "tick", "moisture", "reminder", "calibration", "defect"} {
		if !bytes.Contains(want, []byte(`{"name":"`+table+`","columns":[`)) || bytes.Contains(want, []byte(`{"name":"`+table+`","columns":[],`)) {
			t.Errorf("the table %s is not in the backup", table)
		}
	}
	coats, err := restored.Coats(t.Context(), CoatFilter{Undone: true})
	before, err2 := j.Coats(t.Context(), CoatFilter{Undone: true})
	if d := cmp.Diff(before, coats, rationals); d != "" || len(coats) != 3 || err != nil || err2 != nil {
		t.Error(d, err, err2)
	}
	again := apply(t, restored, "p-0001.1", evening.Add(9*time.Hour))
	if all := changes(t, restored, 0); again.ID != "c-0004" || all[len(all)-1].Seq != int64(len(all)) {
		t.Errorf("the journal goes on with %s, change %d of %d", again.ID, all[len(all)-1].Seq, len(all))
	}
	if _, err := restored.db.Write.Exec(`DELETE FROM change`); err == nil {
		t.Error("the record of changes can be emptied after a restore")
	}
	if left, err := filepath.Glob(path + ".*"); err != nil || len(left) > 0 {
		t.Errorf("left over: %v, %v", left, err)
	}
}

// rationals compares fractions by value.
var rationals = cmp.Comparer(func(a, b *big.Rat) bool { return a.Cmp(b) == 0 })

func TestRestoreNeverWritesOverAJournal(t *testing.T) {
	j := lived(t)
	before := backedUp(t, j)
	if err := RestoreJournal(t.Context(), j.db.Path, bytes.NewReader(before)); !errors.Is(err, ErrJournalThere) {
		t.Error(err)
	}
	if !bytes.Equal(before, backedUp(t, j)) {
		t.Error("it was changed")
	}
}

func TestRestoreRefusesWhatIsNoBackup(t *testing.T) {
	whole := string(backedUp(t, lived(t)))
	replace := func(old, new string) string {
		t.Helper()
		if !strings.Contains(whole, old) {
			t.Fatalf("the backup holds no %s:\n%s", old, whole)
		}
		return strings.Replace(whole, old, new, 1)
	}
	at := strconv.FormatInt(evening.UnixMilli(), 10)
	for name, c := range map[string]struct{ text, says string }{
		"empty":             {"", "not a whole backup"},
		"cut short":         {whole[:len(whole)/2], "not a whole backup"},
		"something behind":  {whole + "{}", "something follows its end"},
		"other JSON":        {`{}`, "not a backup of a journal"},
		"unknown key":       {`{"format":"recoat journal","version":1,"colour":3}`, "unknown field"},
		"newer":             {replace(`"version":6`, `"version":7`), "newest known 6"},
		"version 0":         {replace(`"version":6`, `"version":0`), "not a backup of a journal"},
		"a table less":      {`{"format":"recoat journal","version":6,"tables":[]}`, "holds 0 tables"},
		"another table":     {replace(`"name":"room"`, `"name":"room; DROP TABLE coat"`), `is "room; DROP TABLE coat", its version has room there`},
		"another column":    {replace(`"title"`, `"colour"`), "its version has room there, with id, title"},
		"a value less":      {replace(`["back-room","Back room","",`, `["back-room","Back room",`), "the table room: row"},
		"a truth value":     {replace(`["back-room","Back room",""`, `["back-room","Back room",true`), "limits: a value is neither text nor"},
		"text for a time":   {replace(`["back-room","Back room","",`+at, `["back-room","Back room","","noon"`), "the table room: row"},
		"an orphan":         {replace(`["back-room","Back room"`, `["front-room","Back room"`), "FOREIGN KEY"},
		"a broken label":    {replace(`family = \"waterborne\"`, `family = waterborne`), "product f-0001"},
		"a broken schedule": {replace(`"painted-bare","[{`, `"painted-bare","[{\"colour\":3,`), "the steps cannot be read"},
		"a circle":          {replace(`"painted-bare","[{\"id\":1,\"kind\":\"sand\",\"grits\":[150]`, `"painted-bare","[{\"id\":1,\"kind\":\"sand\",\"waits\":[{\"step\":2}]`), "in a circle"},
		"a broken share":    {replace(`"1/3"`, `"1e9"`), "is not a share"},
		"a broken change":   {replace(`"add the room","back-room","null","{`, `"add the room","back-room","null","`), "change 1 is not whole"},
	} {
		path := filepath.Join(t.TempDir(), "journal.db")
		err := RestoreJournal(t.Context(), path, strings.NewReader(c.text))
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v\n want %s", name, err, c.says)
		}
		if left, err := os.ReadDir(filepath.Dir(path)); err != nil || len(left) > 0 {
			t.Errorf("%s: left over: %v, %v", name, left, err)
		}
	}
}

// frozen are the migrations as they were released; a file that was brought to
// a version by another text would differ from one that is made now.
var frozen = []string{"a5630f16d9e5e1dc", "0ba81202c5b7fdc8", "b24ec440f5964845", "8c372427ecd42d9b", "e6079a168c17c8e5", "cb3eb7e42d35ae78"}

func TestMigrationsAreNeverEdited(t *testing.T) {
	if len(schema.Migrations) != len(frozen) {
		t.Fatalf("%d migrations, %d are frozen here: add the new one's sum", len(schema.Migrations), len(frozen))
	}
	for i, text := range schema.Migrations {
		sum := sha256.Sum256([]byte(text))
		if got := hex.EncodeToString(sum[:8]); got != frozen[i] {
			t.Errorf("the migration to version %d is not as it was released (%s): put changes into a new one", i+1, got)
		}
	}
}

// atVersion makes a journal file as an earlier version of recoat did, with a
// coat on a part and a touch test, and returns its path.
func atVersion(t *testing.T, version int) string {
	t.Helper()
	label := load(t, quietHarbour)
	written, assumed := preserve(label)
	path := filepath.Join(t.TempDir(), "journal.db")
	db, err := sqldb.Open(t.Context(), path, sqldb.Schema{ApplicationID: schema.ApplicationID, Migrations: schema.Migrations[:version]})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	at := evening.UnixMilli()
	for _, row := range []struct {
		statement string
		values    []any
	}{
		{`INSERT INTO room(id, title, limits, added) VALUES ('back-room', 'Back room', '', ?)`, []any{at}},
		{`INSERT INTO product(id, version, name, label, assumed, added) VALUES (1, 1, ?, ?, ?, ?)`, []any{label.Name, written, assumed, at}},
		{`INSERT INTO piece(id, name, added) VALUES (1, 'Dresser', ?)`, []any{at}},
		{`INSERT INTO part(piece, number, name, material, thickness_mm, room, probe) VALUES (1, 1, 'top', 'oak', 22, 'back-room', '')`, nil},
		{`INSERT INTO coat(id, piece, part, product, version, room, applied, film_um, method, batch, mix, recorded) VALUES (1, 1, 1, 1, 1, 'back-room', ?, 100, 'brush', 'B7', '5 % water', ?)`, []any{at, at}},
		{`INSERT INTO touch(id, coat, at, feel) VALUES (1, 1, ?, 'dry')`, []any{at}},
		{`INSERT INTO change(at, what, subject, before, after) VALUES (?, 'apply the coat', 'c-0001', 'null', '{}')`, []any{at}},
	} {
		if _, err := db.Write.Exec(row.statement, row.values...); err != nil {
			t.Fatal(err)
		}
	}
	return path
}

// A journal of every earlier version, and a backup of it, is one of this
// version once it is opened, and nothing in it is lost.
func TestEveryEarlierVersionIsBroughtUp(t *testing.T) {
	for version := 1; version <= len(schema.Migrations); version++ {
		path := atVersion(t, version)
		old, err := sqldb.Open(t.Context(), path, sqldb.Schema{ApplicationID: schema.ApplicationID, Migrations: schema.Migrations[:version]})
		if err != nil {
			t.Fatal(err)
		}
		then := backedUp(t, &Journal{db: old})
		if err := old.Close(); err != nil {
			t.Fatal(err)
		}
		restored := filepath.Join(t.TempDir(), "restored.db")
		if err := RestoreJournal(t.Context(), restored, bytes.NewReader(then)); err != nil {
			t.Fatalf("version %d: %v", version, err)
		}
		want := []Coat{{
			ID: "c-0001", PieceID: "p-0001", Piece: "Dresser", Room: "back-room", Applied: evening, Film: 100, Method: Brush, Batch: "B7", Mix: "5 % water", Recorded: evening,
			Part:    Part{ID: "p-0001.1", Name: "top", Material: "oak", ThicknessMM: 22, Room: "back-room"},
			Product: Product{ID: "f-0001", Version: 1, Added: evening, Label: load(t, quietHarbour)},
		}}
		var texts [][]byte
		for _, path := range []string{path, restored} {
			j := open(t, path)
			coats, err := j.OpenCoats(t.Context(), "back-room")
			if d := cmp.Diff(want, coats); d != "" || err != nil {
				t.Errorf("version %d: %s %v", version, d, err)
			}
			if touches, err := j.Touches(t.Context(), "c-0001"); err != nil || len(touches) != 1 {
				t.Errorf("version %d: %v, %v", version, touches, err)
			}
			texts = append(texts, backedUp(t, j))
			if c := apply(t, j, "p-0001.1", evening.Add(3*time.Hour)); c.ID != "c-0002" {
				t.Errorf("version %d: it goes on with %s", version, c.ID)
			}
		}
		if !bytes.Equal(texts[0], texts[1]) {
			t.Errorf("version %d: the journal and its restored backup differ:\n%s\n%s", version, texts[0], texts[1])
		}
	}
}
