package main

import (
	"errors"
	"fmt"
	"time"

	"recoat/internal/upkeep"
)

type backupCommand struct {
	Take    backupTakeCommand    `cmd:"" help:"Make a backup now, of a recoat that runs or not."`
	List    backupListCommand    `cmd:"" help:"Say which backups there are."`
	Restore backupRestoreCommand `cmd:"" help:"Put the backup of a day in the place of what there is, which is set aside."`
}

type backupFlags struct {
	Config    string `help:"Configuration file." type:"path" placeholder:"FILE"`
	Simulated bool   `help:"Work on the backups of the simulated room."`
}

// keeper is the one whose backups are meant. A bar says how far it is.
func (b backupFlags) keeper(s *session, doing string) (upkeep.Keeper, error) {
	cfg, err := loadConfig(b.Config)
	f := folder(cfg.Data.Folder)
	if b.Simulated {
		f = simulatedIn(cfg.Data.Folder)
	}
	k := cfg.Data.keeper(f)
	k.Progress = progress(s.stderr, doing)
	return k, err
}

type backupTakeCommand struct{ backupFlags }

// Run makes a backup.
func (c *backupTakeCommand) Run(s *session) error {
	k, err := c.keeper(s, "Backing up")
	if err != nil {
		return err
	}
	if err := k.Backup(s.ctx, time.Now()); err != nil {
		return err
	}
	return listBackups(s, k)
}

type backupListCommand struct{ backupFlags }

// Run lists the backups.
func (c *backupListCommand) Run(s *session) error {
	k, err := c.keeper(s, "")
	if err != nil {
		return err
	}
	return listBackups(s, k)
}

func listBackups(s *session, k upkeep.Keeper) error {
	days, err := k.Days()
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
	k, err := c.keeper(s, "Restoring")
	if err != nil {
		return err
	}
	_, release, err := openFolder(k.Folder)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, release()) }()
	done, err := k.Restore(s.ctx, day, time.Now())
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
