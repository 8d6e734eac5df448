package faults

import (
	"path/filepath"
	"slices"
	"time"

	"recoat/internal/alert"
	"recoat/internal/store"
	"recoat/internal/store/sqlite"
	"recoat/internal/telemetry"
	"recoat/sensors"
)

// check looks at what the hub's files hold once all is over.
func (c *campaign) check() {
	c.Helper()
	s, err := sqlite.Open(c.Context(), filepath.Join(c.hubFolder, "readings.db"))
	if err != nil {
		c.Fatal(err)
	}
	defer s.Close()
	if err := s.Check(c.Context()); err != nil {
		c.Error(err)
	}
	now := time.Now()
	all, err := store.All(c.Context(), s, store.Query{Room: attic, From: now.AddDate(0, 0, -1), To: now.AddDate(0, 0, 1)})
	if err != nil {
		c.Fatal(err)
	}
	c.checkRounds(all)
	c.checkRollups(s, all)
	c.checkEpisodes()
	if len(c.bad) > 0 {
		c.Errorf("the hub showed air that no good reading was of: %v", c.bad[:min(5, len(c.bad))])
	}
	for key, path := range c.spools {
		c.checkSpool(key, path)
	}
}

// checkRounds: every one that a node had is there once and as it was measured,
// and no other is.
func (c *campaign) checkRounds(all []sensors.Round) {
	if !slices.IsSortedFunc(all, store.Compare) {
		c.Error("rounds come out of order")
	}
	held := map[identity]int{}
	last := map[identity]uint64{}
	for id := range c.have {
		boot := identity{id.node, id.boot, 0}
		last[boot] = max(last[boot], id.seq)
	}
	for _, r := range all {
		if r.Boot == "before" {
			continue
		}
		id := identity{r.Node, r.Boot, r.Seq}
		held[id]++
		kept, err := store.Canonical(attic, []sensors.Round{{Node: r.Node, Boot: r.Boot, Seq: r.Seq, Time: r.Time, Readings: readings(r.Seq)}})
		if err != nil {
			c.Fatal(err)
		}
		// The round under way when a node was killed may be durable and unsaid.
		if boot := (identity{r.Node, r.Boot, 0}); r.Seq > last[boot]+1 && !c.have[id] {
			c.Errorf("round %v was never taken", id)
		}
		if !slices.Equal(r.Readings, kept[0].Readings) {
			c.Errorf("round %v holds %v, measured was %v", id, r.Readings, kept[0].Readings)
		}
	}
	lost, doubled := 0, 0
	for id := range c.have {
		switch held[id] {
		case 0:
			lost++
		case 1:
		default:
			doubled++
		}
	}
	if lost+doubled > 0 {
		c.Errorf("of %d rounds %d are lost and %d doubled", len(c.have), lost, doubled)
	}
	c.checkOrder(all)
	c.Logf("%d rounds acknowledged, %d held, %d lost, %d doubled; %d coats told of", len(c.have), len(held), lost, doubled, len(c.coats))
}

// checkOrder: within a boot a later round has a later time, but where the clock
// was stepped.
func (c *campaign) checkOrder(all []sensors.Round) {
	byBoot := map[identity][]sensors.Round{}
	for _, r := range all {
		boot := identity{r.Node, r.Boot, 0}
		byBoot[boot] = append(byBoot[boot], r)
	}
	inversions := 0
	for _, rounds := range byBoot {
		slices.SortFunc(rounds, func(a, b sensors.Round) int { return int(int64(a.Seq) - int64(b.Seq)) })
		for i := 1; i < len(rounds); i++ {
			if rounds[i].Time.Before(rounds[i-1].Time) {
				inversions++
			}
		}
	}
	if inversions > c.backwards {
		c.Errorf("%d rounds are earlier than the one before, clocks were stepped %d times", inversions, c.backwards)
	}
}

// checkRollups: they are those of the rounds, and of good readings alone.
func (c *campaign) checkRollups(s store.Readings, all []sensors.Round) {
	twin := store.NewMemory()
	if err := twin.Append(c.Context(), attic, all); err != nil {
		c.Fatal(err)
	}
	extents, err := s.Extents(c.Context())
	if err != nil {
		c.Fatal(err)
	}
	for _, e := range extents {
		got, err1 := s.Rollups(c.Context(), e.Series, time.Hour, e.First, e.Last.Add(1))
		want, err2 := twin.Rollups(c.Context(), e.Series, time.Hour, e.First, e.Last.Add(1))
		if err1 != nil || err2 != nil || !slices.Equal(got, want) {
			c.Errorf("rollups of %v: %v, counted anew %v (%v, %v)", e.Series, got, want, err1, err2)
		}
		for _, r := range got {
			if e.Channel.Quantity == sensors.AirTemperature && r.Good > 0 && r.Max > wrong-1 {
				c.Errorf("a reading that is not good went into %+v", r)
			}
		}
	}
}

// checkEpisodes: whatever was raised has at least one message that was sent or
// waits to be; heal has seen to it that every coat was told of.
func (c *campaign) checkEpisodes() {
	o, err := alert.OpenOutbox(c.Context(), filepath.Join(c.hubFolder, "outbox.db"))
	if err != nil {
		c.Fatal(err)
	}
	defer o.Close()
	episodes, err1 := o.Episodes(c.Context(), 1000)
	messages, err2 := o.Messages(c.Context(), 10000)
	if err1 != nil || err2 != nil {
		c.Fatal(err1, err2)
	}
	spoken := map[string]bool{}
	for _, m := range messages {
		if m.Status != alert.Dropped {
			spoken[m.Episode] = true
		}
	}
	for _, e := range episodes {
		if e.State != alert.Pending && e.Told > 0 && !spoken[e.ID] {
			c.Errorf("nobody was or will be told of %q", e.Title)
		}
	}
}

func (c *campaign) checkSpool(key, path string) {
	s, err := telemetry.OpenSpool(c.Context(), telemetry.SpoolConfig{Path: path, Node: map[bool]string{true: key, false: "bench"}[key == "door"], Boot: "after", MaxBytes: 64 << 20})
	if err != nil {
		c.Fatal(err)
	}
	defer s.Close()
	if st, err := s.Stats(c.Context()); err != nil || st.Pending != 0 || st.Dropped != 0 {
		c.Errorf("spool of %s: %+v, %v", key, st, err)
	}
}
