package sensors

import (
	"context"
	"time"
)

// Source is one sensor, or one kernel file that stands for one.
type Source interface {
	// Name says which sensor this is and where, such as "bme280 at i2c-1 0x76".
	Name() string
	// Channels lists what Read returns, always the same.
	Channels() []Channel
	// Read measures once. On an error the readings are nil: a value that
	// comes with an error is no value. Read may block for longer than ctx
	// lives, because the bus below may; poll.Guard bounds that.
	Read(ctx context.Context) ([]Reading, error)
}

// Health is what is known of a source after its last read.
type Health struct {
	Source   string
	OK       bool          // the last read gave values
	Err      string        // why not, empty when OK
	Took     time.Duration // how long the last read took
	LastGood time.Time     // when a read last gave values, zero if never
	Failures int           // reads without values since LastGood
}
