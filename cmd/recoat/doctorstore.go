package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"syscall"

	"recoat/internal/doctor"
	"recoat/internal/store/sqlite"
)

const scarce = 512 << 20 // bytes

func lookAtDisk(cfg config) doctor.Finding {
	path := existing(cfg.Data.Folder)
	var disk syscall.Statfs_t
	if err := syscall.Statfs(path, &disk); err != nil {
		return doctor.Finding{Subject: "disk", State: doctor.NotOK, Detail: err.Error(), Do: "name another folder under [data] folder"}
	}
	free := int64(disk.Bavail) * int64(disk.Bsize)
	detail := fmt.Sprintf("%s: %d MiB free", cfg.Data.Folder, free>>20)
	const writable = 2 // access(2), W_OK
	switch {
	case syscall.Access(path, writable) != nil:
		return doctor.Finding{Subject: "disk", State: doctor.NotOK, Detail: path + " cannot be written to", Do: "let this user write there, or name another folder under [data] folder"}
	case free < scarce:
		return doctor.Finding{Subject: "disk", State: doctor.NotOK, Detail: detail, Do: "make room: readings stop when the disk is full"}
	}
	return doctor.Finding{Subject: "disk", State: doctor.OK, Detail: detail}
}

// existing returns the nearest folder above path that is there.
func existing(path string) string {
	for {
		if _, err := os.Stat(path); err == nil || path == filepath.Dir(path) {
			return path
		}
		path = filepath.Dir(path)
	}
}

func lookAtStore(ctx context.Context, cfg config) doctor.Finding {
	path := folder(cfg.Data.Folder).readings()
	if _, err := os.Stat(path); errors.Is(err, os.ErrNotExist) {
		return doctor.Finding{Subject: "store", State: doctor.NotThere, Detail: "no readings kept yet"}
	}
	store, err := sqlite.Open(ctx, path)
	if err == nil {
		err = errors.Join(store.Check(ctx), store.Close())
	}
	if err != nil {
		return doctor.Finding{Subject: "store", State: doctor.NotOK, Detail: err.Error(), Do: "keep the file aside and start anew, or restore a backup"}
	}
	return doctor.Finding{Subject: "store", State: doctor.OK, Detail: path}
}
