package main

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"recoat/internal/access"
)

// openAccounts opens the accounts of a data folder.
func openAccounts(t *testing.T, data dataConfig) *access.Book {
	t.Helper()
	book, err := access.Open(t.Context(), access.Options{Path: data.accounts()})
	if err != nil {
		t.Fatal(err)
	}
	return book
}

// A backup brings no session back: not one that ended since, and none that has
// not, for nobody can tell them apart. It is so at a damaged start and by hand.
func TestARestoredSessionHasEnded(t *testing.T) {
	for _, way := range []string{"restored", "mended", "simulated"} {
		t.Run(way, func(t *testing.T) {
			path, folderPath := writeConfig(t, "http://127.0.0.1:9/phone")
			data := dataConfig{Folder: folderPath}
			at := folder(data.Folder)
			flags := []string{"--config", path}
			if way == "simulated" {
				at = simulatedIn(data.Folder)
				flags = append(flags, "--simulated")
			}
			if err := os.MkdirAll(string(at), 0o700); err != nil {
				t.Fatal(err)
			}
			book := openAccounts(t, data)
			const word = "a quiet drying room"
			if err := book.Add(t.Context(), "mara", access.Owner, word); err != nil {
				t.Fatal(err)
			}
			lost, err := book.LogIn(t.Context(), "192.0.2.9", "mara", word)
			if err != nil {
				t.Fatal(err)
			}
			kept, err := book.LogIn(t.Context(), "192.0.2.10", "mara", word)
			if err != nil {
				t.Fatal(err)
			}
			var out, errs strings.Builder
			if code := run(t.Context(), append([]string{"backup", "take"}, flags...), &out, &errs); code != 0 {
				t.Fatalf("exit %d: %s", code, errs.String())
			}
			if err := errors.Join(book.LogOut(t.Context(), lost, false), book.Close()); err != nil {
				t.Fatal(err)
			}
			out.Reset()
			if way == "mended" {
				if err := os.WriteFile(data.accounts(), make([]byte, 9000), 0o600); err != nil {
					t.Fatal(err)
				}
				if err := mend(t.Context(), data.keeper(at), func(what string) { out.WriteString(what) }); err != nil {
					t.Fatal(err)
				}
			} else if code := run(t.Context(), append([]string{"backup", "restore", time.Now().Format(time.DateOnly)}, flags...), &out, &errs); code != 0 {
				t.Fatalf("exit %d: %s", code, errs.String())
			}
			if !strings.Contains(out.String(), "everyone logs in anew") {
				t.Errorf("it says %q", out.String())
			}
			book = openAccounts(t, data)
			defer func() { _ = book.Close() }()
			for what, secret := range map[string]string{"one that had ended": lost, "one that had not": kept} {
				if v, ok := book.Visitor(t.Context(), secret); ok {
					t.Errorf("the session %s is %+v's again", what, v)
				}
			}
			if _, err := book.LogIn(t.Context(), "192.0.2.9", "mara", word); err != nil {
				t.Errorf("logged in anew: %v", err)
			}
			if lines, err := book.Entries(t.Context(), 10); err != nil || len(lines) < 2 || !strings.Contains(lines[1].What, "every session ended") {
				t.Errorf("the book says %+v, %v", lines, err)
			}
		})
	}
}

// The accounts are the machine's: the nightly backup takes them along where the
// room is simulated or played too, and a start of either finds the backup of the
// other.
func TestTheAccountsAreBackedUpWhateverTheRoomIs(t *testing.T) {
	data := dataConfig{Folder: t.TempDir()}
	machine := folder(data.Folder)
	now := time.Date(2031, 5, 4, 3, 0, 0, 0, time.UTC)
	for i, f := range []folder{machine, simulatedIn(data.Folder), playedIn(data.Folder)} {
		if err := os.MkdirAll(string(f), 0o700); err != nil {
			t.Fatal(err)
		}
		book := openAccounts(t, data)
		name := string(rune('a' + i))
		if err := errors.Join(book.Add(t.Context(), name, access.Owner, "a quiet drying room"), book.Close()); err != nil {
			t.Fatal(err)
		}
		if err := data.keeper(f).Backup(t.Context(), now.AddDate(0, 0, i)); err != nil {
			t.Fatal(err)
		}
		if _, err := os.Stat(filepath.Join(string(f), "backups", now.AddDate(0, 0, i).Format(time.DateOnly), "access.db")); err != nil {
			t.Errorf("%s: %v", f, err)
		}
	}
	if err := os.Remove(data.accounts()); err != nil {
		t.Fatal(err)
	}
	if err := mend(t.Context(), data.keeper(machine), func(string) {}); err != nil {
		t.Fatal(err)
	}
	book := openAccounts(t, data)
	defer func() { _ = book.Close() }()
	if all, err := book.Accounts(t.Context()); err != nil || len(all) != 3 {
		t.Errorf("%v, %v: the newest backup has three", all, err)
	}
}
