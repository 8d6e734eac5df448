package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"recoat/internal/access"
	"recoat/internal/alert"
	"recoat/internal/seal"
	"recoat/internal/shop"
	"recoat/internal/store/influx"
	"recoat/internal/store/sqlite"
	"recoat/internal/telemetry"
	"recoat/internal/upgrade"
)

type upgradeCommand struct {
	Config string `help:"Configuration file." type:"path" placeholder:"FILE"`
	JSON   bool   `name:"json" help:"Write JSON."`
}

// Run copies what this recoat would bring to a newer schema, before it does.
// The service files run it before each start.
func (c *upgradeCommand) Run(s *session) error {
	cfg, err := loadConfig(c.Config)
	if err != nil {
		return err
	}
	steps := []upgrade.Step{}
	for _, f := range []string{".", "agent", "simulated"} {
		done, err := copyBefore(s, filepath.Join(cfg.Data.Folder, f))
		steps = append(steps, done...)
		if err != nil {
			return fmt.Errorf("before the upgrade: %w", err)
		}
	}
	if c.JSON {
		return writeJSON(s.stdout, steps)
	}
	for _, step := range steps {
		fmt.Fprintf(s.stdout, "%s goes from schema %d to %d; as it was, it is kept in %s\n", step.Path, step.From, step.To, step.Copy)
	}
	return nil
}

// copyBefore copies the databases of one folder, if it is there. One that another
// recoat runs on is left to that: whoever opens it next looks at it first.
func copyBefore(s *session, path string) (steps []upgrade.Step, err error) {
	if _, err := os.Stat(path); errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	f, release, err := openFolder(path)
	switch {
	case errors.Is(err, errInUse):
		return nil, nil
	case err != nil:
		return nil, err
	}
	defer func() { err = errors.Join(err, release()) }()
	return upgrade.Prepare(s.ctx, f.databases(), time.Now())
}

// databases are all that a recoat may keep in a folder.
func (f folder) databases() []upgrade.File {
	return []upgrade.File{
		{Path: f.readings(), Schema: sqlite.Schema()},
		{Path: f.journal(), Schema: shop.Schema()},
		{Path: f.outbox(), Schema: alert.OutboxSchema()},
		{Path: f.spool(), Schema: telemetry.SpoolSchema()},
		{Path: f.influxQueue(), Schema: influx.QueueSchema()},
		{Path: f.seals(), Schema: seal.Schema()},
		{Path: f.accounts(), Schema: access.Schema()},
	}
}
