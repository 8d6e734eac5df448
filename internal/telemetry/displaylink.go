package telemetry

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

// Teller publishes what displays show, at the hub. The broker keeps the last of
// each room for a display that comes later.
type Teller struct {
	Link Link
	Hub  string // the hub's name; empty: DefaultHub
	Next <-chan Told
	Log  *slog.Logger
}

// Told is what the display of a room is told.
type Told struct {
	Room    string
	Display Display
}

// Run publishes until ctx ends. What cannot be sent is forgotten: the next says
// more.
func (t Teller) Run(ctx context.Context) error {
	if err := t.Link.check(); err != nil {
		return fmt.Errorf("tell displays: %w", err)
	}
	client, _ := passing(ctx, t.Link, hubClient(t.Hub)+":display", t.Log)
	client.Connect()
	defer client.Disconnect(disconnectMilli)
	for {
		select {
		case <-ctx.Done():
			return nil
		case told := <-t.Next:
			payload, err := told.Display.Encode()
			if err == nil && !ValidName(told.Room) {
				err = fmt.Errorf("the room is named %q", told.Room)
			}
			if err != nil {
				t.Log.Error("tell a display", "room", told.Room, "error", err)
				continue
			}
			if client.IsConnectionOpen() {
				client.Publish(DisplayTopic(told.Room), 0, true, payload)
			}
		}
	}
}

// passing is a client that keeps no session: only what is said now matters.
func passing(ctx context.Context, l Link, id string, log *slog.Logger) (client mqtt.Client, up chan struct{}) {
	l.ClientID = "" // it is the courier's or the receiver's
	up = make(chan struct{}, 1)
	return mqtt.NewClient(l.options(ctx, id, up, log).SetCleanSession(true)), up
}

// Onlooker hears what the display of a room is told, at a node.
type Onlooker struct {
	Link       Link
	Room, Node string
	// Show is told what the hub says and how old that is: what the broker had kept
	// is as old as its date says. It must not wait.
	Show func(d Display, age time.Duration)
	Now  func() time.Time
	Log  *slog.Logger
}

// Run hears until ctx ends.
func (o Onlooker) Run(ctx context.Context) error {
	if err := errors.Join(o.Link.check(), checkNames(o.Room, o.Node)); err != nil {
		return fmt.Errorf("listen for a display: %w", err)
	}
	client, up := passing(ctx, o.Link, "recoat:"+o.Room+":"+o.Node+":display", o.Log)
	client.Connect()
	defer client.Disconnect(disconnectMilli)
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-up:
			if err := subscribe(ctx, client, o.receive, DisplayTopic(o.Room)); err != nil && ctx.Err() == nil {
				o.Log.Error("the display does not hear the hub", "reason", err)
			}
		}
	}
}

func (o Onlooker) receive(_ mqtt.Client, m mqtt.Message) {
	d, err := DecodeDisplay(m.Payload())
	if err != nil {
		o.Log.Warn("what the display is told is refused", "reason", err)
		return
	}
	age := time.Duration(0)
	if m.Retained() {
		age = o.Now().Sub(d.At).Abs() // a clock that is behind makes it no younger
	}
	o.Show(d, age)
}
