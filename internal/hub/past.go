package hub

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"sort"
	"time"

	"recoat/internal/alert"
	"recoat/internal/room"
	"recoat/internal/shop"
	"recoat/internal/store"
	"recoat/sensors"
)

// PastJournal is what a past night asks of the journal.
type PastJournal interface {
	Rooms(ctx context.Context) ([]shop.Room, error)
	Coats(ctx context.Context, f shop.CoatFilter) ([]shop.Coat, error)
	Stays(ctx context.Context, c shop.Coat) ([]shop.Stay, error)
}

// Past plays what was measured in a room once more, and says what would have
// been told by the present rules. The label's times are taken as they stand:
// what touch tests taught is left out.
type Past struct {
	Readings    store.Readings
	Journal     PastJournal
	Route       alert.RouterConfig
	SilentAfter time.Duration
	Fahrenheit  bool
}

// How much of a room is played live before a night, so that what stood then
// stands; how much history there is behind that; and the longest night.
const (
	pastWarmUp = 6 * time.Hour
	pastBehind = 7 * 24 * time.Hour
	pastMost   = 48 * time.Hour
)

// Told returns the messages that a spell of a room would have sent, in order,
// what was still held back at its end last. A round a minute of each node is
// played.
func (p Past) Told(ctx context.Context, id string, from, to time.Time) ([]alert.Message, error) {
	if span := to.Sub(from); span <= 0 || span > pastMost {
		return nil, fmt.Errorf("play the past: %s to %s is not a spell of up to %s", from.Format(time.RFC3339), to.Format(time.RFC3339), pastMost)
	}
	player, err := p.player(ctx, id, from.Add(-pastWarmUp), to)
	if err != nil {
		return nil, fmt.Errorf("play the past: %w", err)
	}
	if err := player.play(ctx); err != nil {
		return nil, fmt.Errorf("play the past: %w", err)
	}
	told := slices.DeleteFunc(player.told, func(t alert.Transition) bool { return t.At.Before(from) })
	return alert.Preview(p.Route, told, to)
}

// playing is a room as it is played.
type playing struct {
	room   *room.Room
	id     string // of the room
	coats  []pastCoat
	rounds []sensors.Round // of the spell, one a minute of each node
	last   map[string]sensors.Round
	stands map[string]time.Duration // for how long a node's round speaks for the present
	from   time.Time
	to     time.Time
	told   []alert.Transition
}

func (p Past) player(ctx context.Context, id string, from, to time.Time) (*playing, error) {
	r := shop.Room{ID: id, Title: id}
	rooms, err := p.Journal.Rooms(ctx)
	if err != nil {
		return nil, err
	}
	if i := slices.IndexFunc(rooms, func(r shop.Room) bool { return r.ID == id }); i >= 0 {
		r = rooms[i]
	}
	n := 0
	play := &playing{id: id, from: from, to: to, room: room.New(room.Config{
		Room: id, Title: r.Title, SilentAfter: p.SilentAfter, Location: p.Route.Zone, Limits: limits(r), Fahrenheit: p.Fahrenheit,
		Engine: alert.NewEngine(alert.EngineConfig{NewID: func() string { n++; return fmt.Sprintf("past-%d", n) }}),
	})}
	if play.coats, err = p.coats(ctx, id, from.Add(-longestFollowed), to); err != nil {
		return nil, err
	}
	if err := p.read(ctx, play, id); err != nil {
		return nil, err
	}
	play.last, play.stands = map[string]sensors.Round{}, standing(play.rounds)
	return play, nil
}

// A round speaks for the present for half as long again as its node's rounds
// usually lie apart, within these bounds: a coarse record is no silence.
const (
	leastStanding = 5 * time.Minute
	mostStanding  = 90 * time.Minute
)

func standing(rounds []sensors.Round) map[string]time.Duration {
	apart, last := map[string][]time.Duration{}, map[string]time.Time{}
	for _, r := range rounds {
		if before, ok := last[r.Node]; ok {
			apart[r.Node] = append(apart[r.Node], r.Time.Sub(before))
		}
		last[r.Node] = r.Time
	}
	stands := map[string]time.Duration{}
	for node, all := range apart {
		slices.Sort(all)
		usual := all[len(all)/2]
		stands[node] = min(max(usual+usual/2, leastStanding), mostStanding)
	}
	return stands
}

// read takes what came before the spell as history, and thins the rest.
func (p Past) read(ctx context.Context, play *playing, id string) error {
	begin := play.from.Add(-pastBehind)
	for _, c := range play.coats {
		begin = earlier(begin, c.Applied)
	}
	newest := map[string]time.Time{} // minute last taken, by node
	return p.Readings.Rounds(ctx, store.Query{Room: id, From: begin, To: play.to}, func(r sensors.Round) error {
		minute := r.Time.Truncate(time.Minute)
		switch {
		case newest[r.Node].Equal(minute):
		case r.Time.Before(play.from):
			play.room.Step(room.Recalled{Round: r})
		default:
			play.rounds = append(play.rounds, r)
		}
		newest[r.Node] = minute
		return ctx.Err()
	})
}

// play lets the spell pass, minute by minute.
func (p *playing) play(ctx context.Context) error {
	follows := []string{"nothing yet"}
	for now := p.from; !now.After(p.to); now = now.Add(time.Minute) {
		if err := ctx.Err(); err != nil {
			return err
		}
		if jobs, ids := p.jobs(now); !slices.Equal(ids, follows) {
			follows = ids
			p.step(room.JobsChanged{Jobs: jobs})
		}
		for len(p.rounds) > 0 && !p.rounds[0].Time.After(now) {
			p.step(room.Arrived{At: p.at(p.rounds[0].Time), Round: p.rounds[0]})
			p.last[p.rounds[0].Node] = p.rounds[0]
			p.rounds = p.rounds[1:]
		}
		p.stand(now)
		p.step(room.Tick{At: p.at(now)})
	}
	return nil
}

// stand lets each node send its last round on, for as long as that speaks for the
// present.
func (p *playing) stand(now time.Time) {
	for _, node := range slices.Sorted(maps.Keys(p.last)) {
		r := p.last[node]
		if d := now.Sub(r.Time); d >= time.Minute && d <= p.stands[node] {
			r.Time = now
			p.step(room.Arrived{At: p.at(now), Round: r})
		}
	}
}

func (p *playing) at(t time.Time) alert.Instant { return alert.Instant{Wall: t, Mono: t.Sub(p.from)} }

func (p *playing) step(e room.Event) {
	for _, effect := range p.room.Step(e) {
		if n, ok := effect.(room.Notify); ok {
			p.told = append(p.told, n.Transitions...)
		}
	}
}

// jobs are the coats that lay uppermost at an instant.
func (p *playing) jobs(now time.Time) (all []room.Job, ids []string) {
	newest := map[string]pastCoat{}
	for _, c := range p.coats {
		if c.Applied.After(now) || !followed(c.Coat, now) {
			continue
		}
		if old, ok := newest[c.Part.ID]; !ok || old.Applied.Before(c.Applied) {
			newest[c.Part.ID] = c
		}
	}
	for _, c := range newest {
		if job, number, here := c.job(p.id, now); here {
			all = append(all, job)
			ids = append(ids, fmt.Sprintf("%s in stay %d", job.ID, number))
		}
	}
	sort.Slice(all, func(i, j int) bool { return all[i].ID < all[j].ID })
	sort.Strings(ids)
	return all, ids
}
