// Package store says how readings are kept: the interface every store
// satisfies, the rules they share, and a twin that keeps all in memory.
// Package storetest holds every store to the same behaviour.
package store

import (
	"context"
	"errors"
	"time"

	"recoat/sensors"
)

// Readings is a store of rounds. It is safe for concurrent use.
//
// Rounds come back as Canonical makes them: UTC, to the millisecond, values in
// whole steps of their quantity, readings in order of channel.
type Readings interface {
	// Append makes all the rounds durable before it returns nil; after an
	// error none of them is kept. A round already held is dealt with as
	// Replace says. A round that cannot be kept gives ErrInvalid.
	Append(ctx context.Context, room string, rounds []sensors.Round) error

	// Rounds calls each with every round that q asks for, in order of time,
	// then node, boot and seq, and stops at the first error, which it returns
	// as it is. What is appended meanwhile is not seen. Older versions of the
	// data are pinned while it runs, so each must not wait for a slow peer.
	Rounds(ctx context.Context, q Query, each func(sensors.Round) error) error

	// Rollups returns the rollups of one series at one of Widths, the buckets
	// that overlap from <= t < to, oldest first. A bucket without readings is
	// left out.
	Rollups(ctx context.Context, s Series, width time.Duration, from, to time.Time) ([]Rollup, error)

	// Extents lists every series that holds a reading, of whatever quality,
	// in order of room, node and channel.
	Extents(ctx context.Context) ([]Extent, error)
}

// Query asks for the rounds of one node, or of every node of the room if Node
// is empty, with From <= Time < To.
type Query struct {
	Room, Node string
	From, To   time.Time
}

// Series is one channel of one node.
type Series struct {
	Room, Node string
	Channel    sensors.Channel
}

// Extent is the time of the first and of the last reading of a series.
type Extent struct {
	Series
	First, Last time.Time
}

// What a caller may have to act on.
var (
	// ErrInvalid says that a round, a name or a width can never be accepted:
	// sending it again is of no use.
	ErrInvalid = errors.New("not acceptable")
	// ErrFull says that there was no room on the disk. Nothing was stored;
	// the same Append succeeds once there is room again.
	ErrFull = errors.New("the disk is full: free some space")
	// ErrDamaged says that the stored data cannot be read as it was written.
	ErrDamaged = errors.New("the stored readings are damaged: set the file aside and restore the last backup")
)
