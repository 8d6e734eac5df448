package chip

import (
	"context"
	"fmt"
	"sync"

	"recoat/sensors"
)

// Chip is an opened chip, a sensors.Source; after any error it should be opened
// anew. The functions that open one say what it gives.
type Chip struct {
	name     string
	channels []sensors.Channel
	measure  func(context.Context) (measured, error)

	mu sync.Mutex // held for the length of a read
}

// measured is what one measurement gave: a value for each of the chip's
// channels, in their order, and what all of them are worth.
type measured struct {
	values  []float64
	quality sensors.Quality
}

// Name says which chip this is and where.
func (c *Chip) Name() string { return c.name }

// Channels lists what Read returns.
func (c *Chip) Channels() []sensors.Channel { return c.channels }

// Read measures once. What comes with an error is thrown away.
func (c *Chip) Read(ctx context.Context) ([]sensors.Reading, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	m, err := c.measure(ctx)
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", c.name, err)
	}
	readings := make([]sensors.Reading, len(c.channels))
	for i, channel := range c.channels {
		readings[i] = sensors.Reading{Channel: channel, Value: m.values[i], Quality: m.quality}
	}
	return readings, nil
}

// Name returns what a chip of a kind, such as "sht3x", is called at addr of the
// bus called where.
func Name(kind, where string, addr uint16) string {
	return fmt.Sprintf("%s at %s %#02x", kind, where, addr)
}

func airChannels() []sensors.Channel {
	return []sensors.Channel{{Quantity: sensors.AirTemperature}, {Quantity: sensors.AirHumidity}}
}

func surfaceChannel() []sensors.Channel {
	return []sensors.Channel{{Quantity: sensors.SurfaceTemperature}}
}

func carbonDioxideChannel() []sensors.Channel {
	return []sensors.Channel{{Quantity: sensors.CarbonDioxide}}
}
