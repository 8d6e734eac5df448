// Package buzzer tells of messages by a pin with a buzzer or a lamp on it, where
// no network is needed.
package buzzer

import (
	"context"
	"errors"
	"fmt"
	"time"

	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/gpio/gpioreg"
	"periph.io/x/host/v3"

	"recoat/internal/alert"
)

// beat is a pin that is on and then off, so many times.
type beat struct {
	times   int
	on, off time.Duration
}

// beatOf is how a message sounds: one blink where nothing is to be done, three
// beats where something is, and ten for what cannot wait. Common practice, no
// source.
func beatOf(m alert.Message) beat {
	switch {
	case m.Cause == alert.Ended || m.Severity == alert.Info:
		return beat{1, 100 * time.Millisecond, 0}
	case m.Severity == alert.Warning:
		return beat{3, 300 * time.Millisecond, 300 * time.Millisecond}
	}
	return beat{10, 500 * time.Millisecond, 250 * time.Millisecond}
}

// Channel sounds each message once. It is for one Send at a time, as the
// courier does.
type Channel struct {
	pin     gpio.PinOut
	on, off gpio.Level
}

// New takes a pin that is free for output and switches it off. ActiveLow is for
// a buzzer or lamp that is on while the pin is low.
func New(pin gpio.PinOut, activeLow bool) (*Channel, error) {
	c := &Channel{pin: pin, on: gpio.High, off: gpio.Low}
	if activeLow {
		c.on, c.off = gpio.Low, gpio.High
	}
	return c, c.set(c.off)
}

// Open finds a pin of this machine by its name, such as "GPIO17".
func Open(pin string, activeLow bool) (*Channel, error) {
	if _, err := host.Init(); err != nil {
		return nil, fmt.Errorf("buzzer: look for pins: %w", err)
	}
	found := gpioreg.ByName(pin)
	if found == nil {
		return nil, fmt.Errorf("buzzer: this machine has no pin %q: name one such as GPIO17", pin)
	}
	return New(found, activeLow)
}

// Name is "buzzer".
func (*Channel) Name() string { return "buzzer" }

// Send sounds m. The pin is off afterwards, whatever happens.
func (c *Channel) Send(ctx context.Context, m alert.Message) error {
	err := c.sound(ctx, beatOf(m))
	if err != nil {
		return errors.Join(err, c.set(c.off))
	}
	return nil
}

func (c *Channel) sound(ctx context.Context, b beat) error {
	for range b.times {
		if err := c.hold(ctx, c.on, b.on); err != nil {
			return err
		}
		if err := c.hold(ctx, c.off, b.off); err != nil {
			return err
		}
	}
	return nil
}

func (c *Channel) hold(ctx context.Context, level gpio.Level, d time.Duration) error {
	if err := c.set(level); err != nil {
		return err
	}
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		return fmt.Errorf("buzzer: cut short: %w", ctx.Err())
	}
}

func (c *Channel) set(level gpio.Level) error {
	if err := c.pin.Out(level); err != nil {
		return fmt.Errorf("buzzer on pin %s: %w", c.pin.Name(), err)
	}
	return nil
}
