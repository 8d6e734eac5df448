package upkeep

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strings"
	"time"

	"recoat/internal/sqldb"
)

// Day is a folder with the backups of one day.
type Day struct {
	Date  time.Time // midnight, UTC
	Path  string
	Names []string // of the files in it
}

// Days lists the backups, newest first.
func (k Keeper) Days() ([]Day, error) {
	root := filepath.Join(k.Folder, backupFolder)
	entries, err := os.ReadDir(root)
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var days []Day
	for _, e := range entries {
		date, err := time.Parse(dayForm, e.Name())
		if err != nil || !e.IsDir() {
			continue // not one of ours
		}
		d := Day{Date: date, Path: filepath.Join(root, e.Name())}
		files, err := os.ReadDir(d.Path)
		if err != nil {
			return nil, err
		}
		for _, f := range files {
			if !strings.HasSuffix(f.Name(), ".making") {
				d.Names = append(d.Names, f.Name())
			}
		}
		days = append(days, d)
	}
	sort.Slice(days, func(i, j int) bool { return days[i].Date.After(days[j].Date) })
	return days, nil
}

// daysOf returns the days with a backup of a file, in whichever folder, the
// newest first.
func (k Keeper) daysOf(f File) ([]Day, error) {
	var all []Day
	for _, folder := range append([]string{k.Folder}, f.Beside...) {
		days, err := Keeper{Folder: folder}.Days()
		if err != nil {
			return nil, err
		}
		all = append(all, slices.DeleteFunc(days, func(d Day) bool { return !slices.Contains(d.Names, f.name()) })...)
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].Date.After(all[j].Date) })
	return all, nil
}

// Backup makes a whole and checked copy of every file, of the day that now is
// where the shop is, while they are in use. One of the same day is replaced. A
// file that cannot be copied does not keep the others from it.
func (k Keeper) Backup(ctx context.Context, now time.Time) error {
	folder := filepath.Join(k.Folder, backupFolder, now.Format(dayForm))
	var errs []error
	var files []File
	for _, f := range k.Files {
		if _, err := os.Stat(f.Path); !f.Passing && !errors.Is(err, os.ErrNotExist) {
			files = append(files, f)
		}
	}
	far := k.meter(func(f File) string { return f.Path }, files)
	for _, f := range files {
		to := filepath.Join(folder, f.name())
		if err := far.during(to+fresh, func() error { return backUp(ctx, f.Path, to) }); err != nil {
			errs = append(errs, fmt.Errorf("back up the %s: %w", f.What, err))
		}
	}
	if err := errors.Join(errs...); err != nil {
		return err // older backups are worth more now: all are kept
	}
	return k.forget()
}

// fresh ends the name of a backup of the day that is not in its place yet.
const fresh = ".new"

// backUp leaves an earlier backup of the day in place until the new one is
// whole.
func backUp(ctx context.Context, path, to string) error {
	making := to + fresh
	if err := os.Remove(making); err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	if err := sqldb.CopyTo(ctx, path, making); err != nil {
		return err
	}
	if err := os.Rename(making, to); err != nil {
		return err
	}
	return syncFolder(filepath.Dir(to))
}

// What is kept: the newest days, and of the weeks before them the newest day
// each.
const (
	keptDays  = 7
	keptWeeks = 4
)

func (k Keeper) forget() error {
	days, err := k.Days()
	if err != nil {
		return err
	}
	type week struct{ year, week int }
	weeks := map[week]bool{}
	var errs []error
	for i, d := range days {
		year, number := d.Date.ISOWeek()
		w := week{year, number}
		if i < keptDays {
			continue
		}
		if !weeks[w] && len(weeks) < keptWeeks {
			weeks[w] = true
			continue
		}
		errs = append(errs, os.RemoveAll(d.Path))
	}
	return errors.Join(errs...)
}

// Restore puts the backups of a day in the place of the files, which are set
// aside. It is for a folder on which nothing runs.
func (k Keeper) Restore(ctx context.Context, date, now time.Time) ([]Mended, error) {
	days, err := k.Days()
	if err != nil {
		return nil, err
	}
	i := slices.IndexFunc(days, func(d Day) bool { return d.Date.Equal(date) })
	if i < 0 {
		return nil, fmt.Errorf("there is no backup of %s; there is %s", date.Format(dayForm), listDays(days))
	}
	var files []File
	for _, f := range k.Files {
		if slices.Contains(days[i].Names, f.name()) {
			files = append(files, f)
		}
	}
	far := k.meter(func(f File) string { return filepath.Join(days[i].Path, f.name()) }, files)
	var all []Mended
	for _, f := range files {
		var m Mended
		err := far.during(f.Path, func() (err error) { m, err = k.restore(ctx, f, days[i], now); return err })
		if err != nil {
			return all, err
		}
		all = append(all, m)
	}
	return all, nil
}

func (k Keeper) restore(ctx context.Context, f File, day Day, now time.Time) (Mended, error) {
	from := filepath.Join(day.Path, f.name())
	if err := f.check(ctx, from); err != nil {
		return Mended{}, fmt.Errorf("the backup of the %s: %w", f.What, err)
	}
	info, err := os.Stat(from)
	if err != nil {
		return Mended{}, err
	}
	aside, err := k.setAside(f, now)
	if err == nil {
		err = f.restore(ctx, from)
	}
	if err != nil {
		return Mended{}, fmt.Errorf("restore the %s: %w", f.What, err)
	}
	return Mended{At: now.UTC().Truncate(time.Second), What: f.What, Then: f.Then, Aside: aside, Backup: info.ModTime().UTC().Truncate(time.Second)}, nil
}

func listDays(days []Day) string {
	if len(days) == 0 {
		return "none at all"
	}
	var dates []string
	for _, d := range days {
		dates = append(dates, d.Date.Format(dayForm))
	}
	return strings.Join(dates, ", ")
}
