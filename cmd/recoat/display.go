package main

import (
	"fmt"
	"log/slog"
	"time"

	"recoat/internal/display"
	"recoat/internal/telemetry"
	"recoat/sensors/chip"
)

// displayConfig is the small display beside the sensors.
type displayConfig struct {
	Panel string `toml:"panel"`
	I2C   string `toml:"i2c"`
}

// panelSSD1306 is the one kind of display there is.
const panelSSD1306 = "ssd1306"

func (c displayConfig) check() error {
	if c.Panel != "" && c.Panel != panelSSD1306 {
		return fmt.Errorf("display.panel %q: %q, or \"\" for none", c.Panel, panelSSD1306)
	}
	return nil
}

// toldQueue is how many words wait for the broker: one of each room of a shop.
const toldQueue = 16

// speakToDisplays adds what tells displays to the parts, at the hub.
func (h *house) speakToDisplays(link telemetry.Link) {
	told := make(chan telemetry.Told, toldQueue)
	h.parts.add("words for displays", display.Speaker{Rooms: h.hub, Location: time.Local, Out: told}.Run)
	h.parts.add("teller of displays", telemetry.Teller{Link: link, Hub: h.cfg.Hub.Name, Next: told, Log: h.log}.Run)
}

// addDisplay adds the configured display to the parts, at a node. One that cannot
// be opened leaves the sampling be.
func (p *parts) addDisplay(cfg config, link telemetry.Link, log *slog.Logger) {
	if cfg.Display.Panel == "" {
		return
	}
	name := cfg.Display.I2C
	if name == "" {
		name = cfg.Sensors.I2C
	}
	bus, err := chip.OpenBus(name)
	if err != nil {
		log.Warn("going on without the display", "reason", err)
		return
	}
	p.onClose(bus.Close)
	panel := display.NewPanel(bus, log)
	p.add("display", panel.Run)
	p.add("onlooker", telemetry.Onlooker{
		Link: link, Room: cfg.Room.ID, Node: cfg.Room.Node, Show: panel.Show, Now: time.Now, Log: log,
	}.Run)
}
