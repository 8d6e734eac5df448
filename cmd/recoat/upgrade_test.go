package main

import (
	"bytes"
	"database/sql"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"recoat/internal/shop"
	"recoat/internal/sqldb"
	"recoat/internal/upgrade"
)

// shopOf makes a configuration whose data folder holds a journal of a version.
func shopOf(t *testing.T, version int) (config, journal string) {
	t.Helper()
	data := t.TempDir()
	journal = folder(data).journal()
	now := shop.Schema()
	db, err := sqldb.Open(t.Context(), journal, sqldb.Schema{ApplicationID: now.ApplicationID, Migrations: now.Migrations[:min(version, len(now.Migrations))]})
	if err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	return write(t, "recoat.toml", "[data]\nfolder = \""+data+"\"\n"), journal
}

func TestAnOlderJournalIsKeptBeforeTheUpgrade(t *testing.T) {
	path, journal := shopOf(t, 1)
	var out, errs bytes.Buffer
	if code := run(t.Context(), []string{"upgrade", "--json", "--config", path}, &out, &errs); code != 0 {
		t.Fatalf("exit %d: %s", code, errs.String())
	}
	var steps []upgrade.Step
	if err := json.Unmarshal(out.Bytes(), &steps); err != nil {
		t.Fatal(err)
	}
	newest := len(shop.Schema().Migrations)
	if newest == 1 {
		if len(steps) != 0 {
			t.Errorf("nothing to bring up, and yet %+v", steps)
		}
		return
	}
	if len(steps) != 1 || steps[0].Path != journal || steps[0].From != 1 || steps[0].To != newest {
		t.Fatalf("%+v", steps)
	}
	if label, err := sqldb.Inspect(t.Context(), steps[0].Copy); err != nil || label.Version != 1 {
		t.Errorf("the copy: %+v, %v", label, err)
	}
}

func TestAJournalOfANewerRecoatIsRefusedByName(t *testing.T) {
	path, journal := shopOf(t, len(shop.Schema().Migrations))
	db, err := sql.Open("sqlite", journal)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec(`PRAGMA user_version = 900`); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	var out, errs bytes.Buffer
	if code := run(t.Context(), []string{"upgrade", "--config", path}, &out, &errs); code != exitFailed {
		t.Fatalf("exit %d", code)
	}
	for _, want := range []string{journal, "schema 900", "newer version"} {
		if !strings.Contains(errs.String(), want) {
			t.Errorf("no %q in: %s", want, errs.String())
		}
	}
}

// An agent and a hub of one machine share the folder: what runs is not waited
// for, and the rest is looked at.
func TestTheUpgradeLeavesAFolderInUseAlone(t *testing.T) {
	path, journal := shopOf(t, 1)
	_, release, err := openFolder(filepath.Dir(journal))
	if err != nil {
		t.Fatal(err)
	}
	defer release()
	var out, errs bytes.Buffer
	if code := run(t.Context(), []string{"upgrade", "--config", path}, &out, &errs); code != 0 || out.Len() != 0 {
		t.Errorf("exit %d, %s%s", code, out.String(), errs.String())
	}
}

// Whatever database recoat opens in its folder, the upgrade has to know.
func TestEveryDatabaseOfAFolderIsKnownToTheUpgrade(t *testing.T) {
	sink := newSink(t, false)
	path, data := writeConfig(t, sink.URL+"/phone")
	saidBeforeTheAddress(t, "up", "--simulate", "--config", path)
	made, err := filepath.Glob(filepath.Join(data, "simulated", "*.db"))
	if err != nil || len(made) < 4 {
		t.Fatalf("%v, %v", made, err)
	}
	known := map[string]bool{}
	for _, f := range folder(filepath.Join(data, "simulated")).databases() {
		known[f.Path] = true
	}
	for _, f := range made {
		if !known[f] {
			t.Errorf("%s would be brought up without a copy", f)
		}
	}
	if _, err := os.Stat(filepath.Join(data, "simulated", upgrade.Folder)); !os.IsNotExist(err) {
		t.Errorf("copies of new files: %v", err)
	}
}
