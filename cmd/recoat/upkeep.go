package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"recoat/internal/shop"
	"recoat/internal/sqldb"
	"recoat/internal/store"
	"recoat/internal/store/influx"
	"recoat/internal/store/sqlite"
	"recoat/internal/upkeep"
)

// How long things are kept. What a coat's record may need of the air about it
// is kept for ever, as are rollups.
const (
	keepReadings = influx.Retention
	keepAlerts   = 400 * 24 * time.Hour
	packAfter    = 24 * time.Hour
	beforeCoat   = 24 * time.Hour
	afterCoat    = 60 * 24 * time.Hour // the longest that the hub follows one
)

// accountsThen is what to see to after the accounts were mended. A fresh book
// lets nobody in but by the code that the start shows.
const accountsThen = "Accounts, passwords and nodes are as that backup has them, removed ones too: see who may come in with recoat people list and recoat node list. Without a backup the code that recoat shows at its start makes a new owner, and each node elsewhere needs recoat node add."

// keeper cares for the hub's files.
func (f folder) keeper() upkeep.Keeper {
	return upkeep.Keeper{Folder: string(f), Files: []upkeep.File{
		{Path: f.readings(), What: "readings", Check: checkReadings},
		{Path: f.journal(), What: "journal"},
		{Path: f.outbox(), What: "alerts"},
		{Path: f.seals(), What: "seals"},
		{Path: f.accounts(), What: "accounts", Then: accountsThen},
		{Path: f.spool(), What: "readings on their way", Passing: true},
		{Path: f.influxQueue(), What: "readings on their way to InfluxDB", Passing: true},
	}}
}

// checkReadings also unpacks what is packed.
func checkReadings(ctx context.Context, path string) error {
	if err := sqldb.Check(ctx, path); err != nil {
		return err
	}
	s, err := sqlite.Open(ctx, path)
	if err == nil {
		err = errors.Join(s.Check(ctx), s.Close())
	}
	if errors.Is(err, store.ErrDamaged) {
		return fmt.Errorf("%w: %w", sqldb.ErrDamaged, err)
	}
	return err
}

// mend looks at the files of a folder before they are opened.
func mend(ctx context.Context, f folder, tell func(string)) error {
	mended, err := f.keeper().Mend(ctx, time.Now())
	for _, m := range mended {
		tell(m.Sentence(time.Local))
	}
	return err
}

// upkeep adds the work of the night to the parts.
func (h *house) upkeep() {
	keeper := h.folder.keeper()
	h.nightly = &upkeep.Nightly{Location: time.Local, Now: time.Now, Log: h.log, Jobs: []upkeep.Job{
		{What: "thin the readings", Do: h.thin},
		{What: "prune the alerts", Do: func(ctx context.Context, now time.Time) error {
			_, err := h.outbox.Prune(ctx, now.Add(-keepAlerts))
			return err
		}},
		{What: "back up", Do: keeper.Backup},
	}}
	h.parts.add("upkeep", h.nightly.Run)
}

// thin packs and thins the readings where they are in a file. A server keeps to
// what its buckets say.
func (h *house) thin(ctx context.Context, now time.Time) error {
	file, ok := h.store.(*sqlite.Store)
	if !ok {
		return nil
	}
	if err := file.Pack(ctx, now.Add(-packAfter)); err != nil {
		return err
	}
	coats, err := h.journal.Coats(ctx, shop.CoatFilter{Undone: true})
	if err != nil {
		return err
	}
	var keep []sqlite.Span
	for _, c := range coats {
		keep = append(keep, evidence(c)...)
	}
	_, err = file.Thin(ctx, now.Add(-keepReadings), keep)
	return err
}

// evidence is the air that the record of a coat may need: where it was put on,
// and where its part is now.
func evidence(c shop.Coat) []sqlite.Span {
	at := sqlite.Span{Room: c.Room, From: c.Applied.Add(-beforeCoat), To: c.Applied.Add(afterCoat)}
	if c.Part.Room == c.Room {
		return []sqlite.Span{at}
	}
	moved := at
	moved.Room = c.Part.Room
	return []sqlite.Span{at, moved}
}

// notices are what every page says of the files.
func (h *house) notices() []string {
	var all []string
	notes, err := h.folder.keeper().Notes(time.Now())
	if err != nil {
		h.log.Error("read what was mended", "error", err)
	}
	for _, m := range notes {
		all = append(all, m.Sentence(time.Local))
	}
	if f := h.nightly.Failed(); f != nil {
		all = append(all, fmt.Sprintf("Last night's upkeep failed at %s: no new backup was made. The log says why.", f.What))
	}
	return all
}

type backupCommand struct {
	Take    backupTakeCommand    `cmd:"" help:"Make a backup now, of a recoat that runs or not."`
	List    backupListCommand    `cmd:"" help:"Say which backups there are."`
	Restore backupRestoreCommand `cmd:"" help:"Put the backup of a day in the place of what there is, which is set aside."`
}

type backupFlags struct {
	Config string `help:"Configuration file." type:"path" placeholder:"FILE"`
}

func (b backupFlags) folder() (folder, error) {
	cfg, err := loadConfig(b.Config)
	return folder(cfg.Data.Folder), err
}

type backupTakeCommand struct{ backupFlags }

// Run makes a backup.
func (c *backupTakeCommand) Run(s *session) error {
	f, err := c.folder()
	if err != nil {
		return err
	}
	if err := f.keeper().Backup(s.ctx, time.Now()); err != nil {
		return err
	}
	return listBackups(s, f)
}

type backupListCommand struct{ backupFlags }

// Run lists the backups.
func (c *backupListCommand) Run(s *session) error {
	f, err := c.folder()
	if err != nil {
		return err
	}
	return listBackups(s, f)
}

func listBackups(s *session, f folder) error {
	days, err := f.keeper().Days()
	if err != nil {
		return err
	}
	if len(days) == 0 {
		fmt.Fprintln(s.stdout, "There is no backup yet. One is made every night at three, and by: recoat backup take")
	}
	for _, d := range days {
		fmt.Fprintf(s.stdout, "%s  %s\n", d.Date.Format(time.DateOnly), d.Path)
	}
	return nil
}

type backupRestoreCommand struct {
	backupFlags
	Day string `arg:"" help:"The day, such as 2026-11-25; recoat backup list says which there are."`
}

// Run restores. No recoat may run on the folder meanwhile.
func (c *backupRestoreCommand) Run(s *session) (err error) {
	day, err := time.Parse(time.DateOnly, c.Day)
	if err != nil {
		return usage{fmt.Errorf("%q is not a day such as 2026-11-25", c.Day)}
	}
	path, err := c.folder()
	if err != nil {
		return err
	}
	f, release, err := openFolder(string(path))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, release()) }()
	done, err := f.keeper().Restore(s.ctx, day, time.Now())
	for _, m := range done {
		fmt.Fprintf(s.stdout, "%s: as of %s", m.What, m.Backup.In(time.Local).Format("2006-01-02 15:04"))
		if m.Aside != "" {
			fmt.Fprintf(s.stdout, "; what there was is in %s", m.Aside)
		}
		if m.Then != "" {
			fmt.Fprintf(s.stdout, ". %s", m.Then)
		}
		fmt.Fprintln(s.stdout)
	}
	return err
}
