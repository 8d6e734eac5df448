// Package demo fills an empty journal with an invented shop, so that the
// simulated room has something drying in it. No name in it belongs to anybody.
package demo

import (
	"context"
	"embed"
	"fmt"
	"slices"
	"time"

	"recoat/drying"
	"recoat/internal/shop"
)

//go:embed products
var products embed.FS

// The surface probes of the demo: which lies on which part.
const (
	DoorProbe = "28-0000000d0051"
	TopProbe  = "28-0000000d0052"
)

// coat is one coat of the demo: on which part, and how long ago.
type coat struct {
	part    int
	step    int // of its schedule; 0: the next one that puts a coat on
	product string
	ago     time.Duration
	film    drying.Microns
	method  shop.Method
}

// Fill adds the room, two products, a piece with its schedules and two coats put
// on shortly before now, unless the journal has a piece already.
func Fill(ctx context.Context, j *shop.Journal, room shop.Room, now time.Time) error {
	pieces, err := j.Pieces(ctx)
	if err != nil || len(pieces) > 0 {
		return err
	}
	if err := ensure(ctx, j, room, now); err != nil {
		return fmt.Errorf("the demo's room: %w", err)
	}
	ids := map[string]string{}
	for _, name := range []string{"colour", "stain"} {
		if ids[name], err = add(ctx, j, name, now); err != nil {
			return fmt.Errorf("the demo's product %s: %w", name, err)
		}
	}
	piece, err := j.AddPiece(ctx, shop.Piece{Name: "Linen press", Parts: []shop.Part{
		{Name: "doors", Material: "pine", ThicknessMM: 22, Room: room.ID, Probe: DoorProbe},
		{Name: "top", Material: "oak", ThicknessMM: 30, Room: room.ID, Probe: TopProbe},
	}}, now)
	if err != nil {
		return fmt.Errorf("the demo's piece: %w", err)
	}
	if err := plan(ctx, j, piece, now); err != nil {
		return fmt.Errorf("the demo's schedules: %w", err)
	}
	for _, c := range []coat{
		{part: 0, step: firstColour, product: "colour", ago: 50 * time.Minute, film: 110, method: shop.Brush},
		{part: 1, product: "stain", ago: 3 * time.Hour, method: shop.Wipe},
	} {
		_, err := j.ApplyCoat(ctx, shop.Application{
			Part: piece.Parts[c.part].ID, Product: ids[c.product], Step: c.step,
			Applied: now.Add(-c.ago).Truncate(time.Minute), Film: c.film, Method: c.method,
		}, now)
		if err != nil {
			return fmt.Errorf("the demo's coat of %s: %w", c.product, err)
		}
	}
	return nil
}

// ensure adds a room that the journal does not have.
func ensure(ctx context.Context, j *shop.Journal, room shop.Room, now time.Time) error {
	rooms, err := j.Rooms(ctx)
	if err != nil || slices.ContainsFunc(rooms, func(r shop.Room) bool { return r.ID == room.ID }) {
		return err
	}
	return j.AddRoom(ctx, room, now)
}

// add adds a product that comes with the demo, and returns its id.
func add(ctx context.Context, j *shop.Journal, name string, now time.Time) (string, error) {
	f, err := products.Open("products/" + name + ".toml")
	if err != nil {
		return "", err
	}
	defer func() { _ = f.Close() }()
	label, err := shop.LoadProduct(f, name)
	if err != nil {
		return "", err
	}
	p, err := j.PutProduct(ctx, label, now)
	return p.ID, err
}
