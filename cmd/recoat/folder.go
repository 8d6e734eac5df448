package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
)

// folder is where a command keeps its files.
type folder string

// errInUse says that another recoat holds the folder.
var errInUse = errors.New("is in use by another recoat")

// simulatedIn and playedIn are where a data folder keeps what is not real.
func simulatedIn(data string) folder { return folder(filepath.Join(data, "simulated")) }
func playedIn(data string) folder    { return folder(filepath.Join(data, "played")) }

// openFolder makes the folder if need be and holds it against a second recoat
// until release.
func openFolder(path string) (f folder, release func() error, err error) {
	if err := os.MkdirAll(path, 0o700); err != nil {
		return "", nil, fmt.Errorf("the data folder %s cannot be made: %w; name another under [data] folder", path, err)
	}
	lock, err := os.OpenFile(filepath.Join(path, "lock"), os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return "", nil, fmt.Errorf("the data folder %s cannot be written to: %w; let this user write there, or name another under [data] folder", path, err)
	}
	if err := syscall.Flock(int(lock.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		return "", nil, errors.Join(fmt.Errorf("the data folder %s %w: stop that one, or name another under [data] folder", path, errInUse), lock.Close())
	}
	return folder(path), lock.Close, nil
}

func (f folder) readings() string    { return filepath.Join(string(f), "readings.db") }
func (f folder) journal() string     { return filepath.Join(string(f), "journal.db") }
func (f folder) outbox() string      { return filepath.Join(string(f), "outbox.db") }
func (f folder) twins() string       { return filepath.Join(string(f), "twins.json") }
func (f folder) pushKey() string     { return filepath.Join(string(f), "push-key.pem") }
func (f folder) linkKey() string     { return filepath.Join(string(f), "link-key") }
func (f folder) spool() string       { return filepath.Join(string(f), "spool.db") }
func (f folder) influxQueue() string { return filepath.Join(string(f), "influx-queue.db") }
func (f folder) seals() string       { return filepath.Join(string(f), "seals.db") }
func (f folder) accounts() string    { return filepath.Join(string(f), "access.db") }
func (f folder) photos() string      { return filepath.Join(string(f), "photos") }
