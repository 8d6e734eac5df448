package main

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"recoat/internal/store"
	"recoat/internal/store/sqlite"
	"recoat/sensors"
	"recoat/sensors/wiring"
)

// twinJSON is two sensors of one quantity and what separates them.
type twinJSON struct {
	First  string   `json:"first"`
	Second string   `json:"second"`
	Unit   string   `json:"unit"`
	Apart  *float64 `json:"apart"`  // second less first, now; null: one of them gave nothing
	Learnt *float64 `json:"learnt"` // the same, over the first day; null: not learnt yet
}

// twinsNow holds each pair of sensors in the same air against each other.
func twinsNow(found wiring.Sensors, answers []wiring.Answer, known offsets) []twinJSON {
	good := map[sensors.Channel]float64{}
	for _, a := range answers {
		for _, r := range a.Readings {
			if r.Quality == sensors.Good {
				good[r.Channel] = r.Value
			}
		}
	}
	all := []twinJSON{}
	for _, t := range twinsOf(channelsOf(found)) {
		j := twinJSON{First: t.First.String(), Second: t.Second.String(), Unit: t.First.Quantity.Unit()}
		a, first := good[t.First]
		b, second := good[t.Second]
		if first && second {
			j.Apart = places(b-a, 2)
		}
		if offset, learnt := known[known.key(t)]; learnt {
			j.Learnt = places(offset, 2)
		}
		all = append(all, j)
	}
	return all
}

// agentFolder is where the agent of this machine keeps its files: alone, or in
// the same process as the hub.
func agentFolder(cfg config) folder {
	alone := folder(filepath.Join(cfg.Data.Folder, "agent"))
	if _, err := os.Stat(alone.spool()); err == nil {
		return alone
	}
	return folder(cfg.Data.Folder)
}

// searched is how far back a last good reading is looked for.
const searched = 7 * 24 * time.Hour

// lastGood looks up when each channel of this node was last good, in the store of
// this machine. Without one, nothing is known.
func lastGood(ctx context.Context, cfg config, now time.Time) (map[sensors.Channel]time.Time, error) {
	path := folder(cfg.Data.Folder).readings()
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	s, err := sqlite.Open(ctx, path)
	if err != nil {
		return nil, err
	}
	last := map[sensors.Channel]time.Time{}
	q := store.Query{Room: cfg.Room.ID, From: now.Add(-searched), To: now.Add(time.Minute)}
	err = s.Rounds(ctx, q, func(r sensors.Round) error {
		for _, x := range r.Readings {
			if r.Node == cfg.Room.Node && x.Quality == sensors.Good && r.Time.After(last[x.Channel]) {
				last[x.Channel] = r.Time
			}
		}
		return nil
	})
	return last, errors.Join(err, s.Close())
}
