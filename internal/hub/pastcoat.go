package hub

import (
	"context"
	"slices"
	"time"

	"recoat/drying"
	"recoat/internal/follow"
	"recoat/internal/room"
	"recoat/internal/shop"
)

// pastCoat is a coat with where its part was, and what it met before each of those
// stays that were in the room.
type pastCoat struct {
	shop.Coat
	stays   []shop.Stay
	earlier map[int][]drying.Sample // by the number of the stay
}

// coats are those that were put on in a span of time and whose parts were in a
// room after that.
func (p Past) coats(ctx context.Context, id string, from, to time.Time) ([]pastCoat, error) {
	all, err := p.Journal.Coats(ctx, shop.CoatFilter{From: from, To: to})
	if err != nil {
		return nil, err
	}
	var out []pastCoat
	for _, c := range all {
		one := pastCoat{Coat: c, earlier: map[int][]drying.Sample{}}
		if one.stays, err = follow.Stays(ctx, p.Journal, c); err != nil {
			return nil, err
		}
		if !slices.ContainsFunc(one.stays, func(s shop.Stay) bool { return s.Room == id }) {
			continue
		}
		for i, s := range one.stays {
			if s.Room != id || i == 0 {
				continue
			}
			if one.earlier[i], err = elsewhere(ctx, p.Readings, one.stays[:i+1]); err != nil {
				return nil, err
			}
		}
		out = append(out, one)
	}
	return out, nil
}

// job is the coat as a room follows it at an instant, and which of its part's
// stays that is; here is false where that stay is in another room.
func (c pastCoat) job(id string, now time.Time) (job room.Job, number int, here bool) {
	for i, s := range c.stays {
		if !s.From.After(now) {
			number = i
		}
	}
	stay := c.stays[number]
	job = jobOf(c.Coat)
	job.Probe = stay.Probe
	if number > 0 {
		job.Earlier, job.Since = c.earlier[number], stay.From
	}
	return job, number, stay.Room == id
}
