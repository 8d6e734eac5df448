package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"recoat/internal/store"
	"recoat/internal/store/influx"
	"recoat/internal/store/sqlite"
)

// storeConfig says where readings are kept.
type storeConfig struct {
	Kind      string `toml:"kind"`
	URL       string `toml:"url"`
	Org       string `toml:"org"`
	TokenFile string `toml:"token_file"`
	Readings  string `toml:"readings"`
	Rollups   string `toml:"rollups"`
}

// The kinds of store.
const (
	inFile   = "sqlite"
	inServer = "influxdb"
)

func (c storeConfig) check() error {
	switch {
	case c.Kind != inFile && c.Kind != inServer:
		return fmt.Errorf("store.kind %q: %q or %q", c.Kind, inFile, inServer)
	case c.Kind == inServer && c.URL == "":
		return errors.New("store.url: where is the server? such as \"http://shop.example:8086\"")
	}
	return nil
}

// server is the configuration of the store on a server.
func (c storeConfig) server(f folder, log *slog.Logger) (influx.Config, error) {
	if c.URL == "" {
		return influx.Config{}, errors.New("store.url: no server is named: see [store] in deploy/recoat.toml")
	}
	token, err := password("store.token_file", c.TokenFile)
	return influx.Config{
		URL: c.URL, Org: c.Org, Token: token, Readings: c.Readings, Rollups: c.Rollups, Queue: f.influxQueue(), Log: log,
	}, err
}

// openStore opens the configured store. Simulated readings stay in a file.
func (h *house) openStore(ctx context.Context) error {
	if h.cfg.Store.Kind == inFile || h.simulated {
		s, err := sqlite.Open(ctx, h.folder.readings())
		if err != nil {
			return err
		}
		h.store = s
		h.parts.onClose(s.Close)
		return nil
	}
	cfg, err := h.cfg.Store.server(h.folder, h.log)
	if err != nil {
		return err
	}
	s, err := influx.Open(ctx, cfg)
	if err != nil {
		return err
	}
	h.store = s
	h.parts.onClose(s.Close)
	h.parts.add("InfluxDB", s.Run)
	return nil
}

type storeCommand struct {
	Prepare storePrepareCommand `cmd:"" help:"Make the buckets of the configured InfluxDB server, and set how long they keep."`
	Copy    storeCopyCommand    `cmd:"" help:"Copy all readings from the file to the server, or back, and compare."`
}

type storePrepareCommand struct {
	Config string `help:"Configuration file." type:"path" placeholder:"FILE"`
}

// Run makes the buckets.
func (c *storePrepareCommand) Run(s *session) error {
	cfg, err := loadConfig(c.Config)
	if err != nil {
		return err
	}
	server, err := cfg.Store.server(folder(cfg.Data.Folder), logTo(s))
	if err != nil {
		return err
	}
	if err := influx.Prepare(s.ctx, server, influx.Retention); err != nil {
		return err
	}
	fmt.Fprintf(s.stdout, "%s keeps readings %d days in %s, and their sums for ever in %s.\n",
		server.URL, int(influx.Retention.Hours()/24), server.Readings, server.Rollups)
	return nil
}

type storeCopyCommand struct {
	Config string `help:"Configuration file." type:"path" placeholder:"FILE"`
	From   string `help:"Where the readings are: sqlite or influxdb." enum:"sqlite,influxdb" required:""`
}

// Run copies. No recoat may run on the folder meanwhile.
func (c *storeCopyCommand) Run(s *session) (err error) {
	cfg, err := loadConfig(c.Config)
	if err != nil {
		return err
	}
	f, release, err := openFolder(cfg.Data.Folder)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, release()) }()
	file, err := sqlite.Open(s.ctx, f.readings())
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	where, err := cfg.Store.server(f, logTo(s))
	if err != nil {
		return err
	}
	server, err := influx.Open(s.ctx, where)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, server.Close()) }()
	from, to := store.Readings(file), store.Readings(server)
	if c.From == inServer {
		from, to = to, from
	}
	share := progress(s.stderr, "Copying")
	done, err := store.Copy(s.ctx, from, to, func(done float64, _ time.Time) { share(done) })
	if err != nil {
		return err
	}
	fmt.Fprintf(s.stdout, "%d rounds of %d rooms copied and compared.\n", done.Rounds, done.Rooms)
	return nil
}
