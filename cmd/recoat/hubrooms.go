package main

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"recoat/internal/shop"
	"recoat/internal/telemetry"
)

// hubConfig is what tells hubs apart that share a broker.
type hubConfig struct {
	Name  string   `toml:"name"`
	Rooms []string `toml:"rooms"`
}

func (c hubConfig) check(room string) error {
	switch err := telemetry.CheckOwnRooms(c.Rooms); {
	case !nameForm.MatchString(c.Name):
		return fmt.Errorf("hub.name %q: 1 to 32 small letters, digits or hyphens, such as \"north\"", c.Name)
	case err != nil:
		return fmt.Errorf("hub.rooms: %w", err)
	case len(c.Rooms) > 0 && c.Name == telemetry.DefaultHub:
		return fmt.Errorf("hub.name %q: a hub with rooms of its own shares its broker with others: give it a name that no other has", c.Name)
	case len(c.Rooms) > 0 && !slices.Contains(c.Rooms, room):
		return fmt.Errorf("room.id %q: one of hub.rooms, which are %q", room, c.Rooms)
	}
	return nil
}

// ownRooms are the rooms that the configuration names, as the journal has them.
func (c config) ownRooms() []shop.Room {
	own := []shop.Room{{ID: c.Room.ID, Title: c.Room.Title}}
	for _, id := range c.Hub.Rooms {
		if id != c.Room.ID {
			own = append(own, shop.Room{ID: id, Title: id})
		}
	}
	return own
}

func ensureRooms(ctx context.Context, cfg config, j *shop.Journal, at time.Time) error {
	known, err := j.Rooms(ctx)
	if err != nil {
		return err
	}
	for _, own := range cfg.ownRooms() {
		if slices.ContainsFunc(known, func(r shop.Room) bool { return r.ID == own.ID }) {
			continue
		}
		if err := j.AddRoom(ctx, own, at); err != nil {
			return err
		}
	}
	return nil
}

// claim adds what settles with the other hubs at a broker whose room is whose. A
// broker inside this process has no other hub.
func (h *house) claim(link telemetry.Link) (err error) {
	if h.cfg.Broker.URL == "" {
		return nil
	}
	h.claimant, err = telemetry.NewClaimant(telemetry.ClaimantConfig{
		Link: link, Hub: h.cfg.Hub.Name, Rooms: h.cfg.Hub.Rooms, Instance: uuid.NewString(), Log: h.log,
	})
	if err != nil {
		return err
	}
	h.parts.add("claim of rooms", h.claimant.Run)
	return nil
}

// owns reports whether a room is this hub's now.
func (h *house) owns(room string) bool {
	if h.claimant != nil {
		return h.claimant.Owns(room)
	}
	return len(h.cfg.Hub.Rooms) == 0 || slices.Contains(h.cfg.Hub.Rooms, room)
}

// settled is closed once rounds may be taken.
func (h *house) settled() <-chan struct{} {
	if h.claimant != nil {
		return h.claimant.Settled()
	}
	open := make(chan struct{})
	close(open)
	return open
}

// receiver makes what takes rounds and states from the broker.
func (h *house) receiver(link telemetry.Link, handle func(telemetry.Delivery)) (*telemetry.Receiver, error) {
	return telemetry.NewReceiver(telemetry.ReceiverConfig{
		Link: link, Broker: h.broker, Hub: h.cfg.Hub.Name, Rooms: h.cfg.Hub.Rooms, Owns: h.owns, Handle: handle, HandleState: h.hub.Report, Log: h.log,
	})
}

// listens runs the receiver once the rooms stand, and it is settled which of them
// are this hub's.
func (h *house) listens(receiver *telemetry.Receiver) func(context.Context) error {
	return func(ctx context.Context) error {
		for _, ready := range []<-chan struct{}{h.hub.Ready(), h.settled()} {
			select {
			case <-ready:
			case <-ctx.Done():
				return nil
			}
		}
		return receiver.Run(ctx)
	}
}
