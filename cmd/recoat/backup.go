package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"recoat/internal/shop"
	"recoat/internal/shop/photo"
)

type journalCommand struct {
	Backup    journalBackupCommand    `cmd:"" help:"Write the whole journal to a file, as JSON."`
	Restore   journalRestoreCommand   `cmd:"" help:"Make the journal from such a file, where there is none yet."`
	History   journalHistoryCommand   `cmd:"" help:"What was done to one thing, when and by whom, with what was there before."`
	Undo      journalUndoCommand      `cmd:"" help:"Take an edit back."`
	Archive   journalArchiveCommand   `cmd:"" help:"Put a piece, a product, a mix or a can away; nothing of it is lost."`
	Unarchive journalUnarchiveCommand `cmd:"" help:"Take it out of the archive again."`
}

type journalBackupCommand struct {
	journalFlags
	File string `arg:"" help:"The file to write; it must not be there." type:"path"`
}

type journalRestoreCommand struct {
	journalFlags
	File string `arg:"" help:"The file to read." type:"path"`
}

// backupReport says where a backup is or went.
type backupReport struct {
	File   string `json:"file"`
	Bytes  int64  `json:"size_bytes"`
	Photos int    `json:"photos"` // in the folder beside it
}

// Run writes a backup. A recoat that runs may go on meanwhile.
func (c *journalBackupCommand) Run(s *session) error {
	_, at, err := c.folder()
	if err != nil {
		return err
	}
	return c.with(s, func(_ config, j *shop.Journal) error {
		size, err := writeBackup(s.ctx, j, c.File)
		if err != nil {
			return err
		}
		names, err := j.Photos(s.ctx)
		if err != nil {
			return err
		}
		photos, err := copyPhotos(photo.Folder(at.photos()), photosOf(c.File), names)
		if err != nil {
			return fmt.Errorf("the journal is in %s, but not all of its photos are beside it: %w", c.File, err)
		}
		if c.JSON {
			return writeJSON(s.stdout, backupReport{c.File, size, photos})
		}
		fmt.Fprintf(s.stdout, "The journal is in %s, %d bytes.\n", c.File, size)
		if photos > 0 {
			fmt.Fprintf(s.stdout, "Its photos, %d, are in %s: keep both together.\n", photos, photosOf(c.File))
		}
		return nil
	})
}

// writeBackup writes the journal to a file that is not there yet, and leaves
// none behind that is not whole.
func writeBackup(ctx context.Context, j *shop.Journal, path string) (int64, error) {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return 0, fmt.Errorf("back up the journal: %w; name a file that is not there", err)
	}
	err = errors.Join(j.Backup(ctx, f), f.Sync())
	info, statErr := f.Stat()
	if err = errors.Join(err, statErr, f.Close()); err != nil {
		return 0, errors.Join(err, os.Remove(path))
	}
	return info.Size(), nil
}

// Run restores the journal. No recoat may run on the folder meanwhile.
func (c *journalRestoreCommand) Run(s *session) error {
	f, err := os.Open(c.File)
	if err != nil {
		return fmt.Errorf("restore the journal: %w", err)
	}
	defer f.Close()
	_, path, err := c.folder()
	if err != nil {
		return err
	}
	held, release, err := openFolder(string(path))
	if err != nil {
		return err
	}
	whole, err := watchFile(f, progress(s.stderr, "Reading the backup"))
	if err != nil {
		return errors.Join(err, release())
	}
	if err := errors.Join(shop.RestoreJournal(s.ctx, held.journal(), whole), release()); err != nil {
		return err
	}
	names, err := photosIn(photosOf(c.File))
	if err != nil {
		return err
	}
	photos, err := copyPhotos(photosOf(c.File), photo.Folder(held.photos()), names)
	if err != nil {
		return fmt.Errorf("the journal is restored, but not all of its photos: %w", err)
	}
	info, err := f.Stat()
	if err != nil {
		return err
	}
	if c.JSON {
		return writeJSON(s.stdout, backupReport{c.File, info.Size(), photos})
	}
	fmt.Fprintf(s.stdout, "The journal of %s is in %s.\n", filepath.Base(c.File), held)
	return nil
}
