package display

import (
	"context"
	"fmt"
	"image"
	"image/draw"
	"log/slog"
	"sync"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/devices/v3/ssd1306"

	"recoat/internal/telemetry"
)

// The pace of the panel. A whole picture holds a bus at its usual 100 kHz up for
// a tenth of a second, so it is drawn seldom, and only what has changed.
const (
	step       = 5 * time.Second
	restart    = 10 * time.Minute // a display that lost its supply for an instant stays dark until it is started again
	retry      = time.Minute
	dim        = 0x20 // of 255: enough in a room, and the pixels age less
	shiftEvery = time.Minute
)

// Panel is an SSD1306 at 0x3C that shows what the hub says.
type Panel struct {
	bus i2c.Bus
	log *slog.Logger

	mu    sync.Mutex // guards the rest
	words telemetry.Display
	heard time.Time // when they came, on the monotonic clock
}

// NewPanel returns a panel on a bus, which is not touched before Run.
func NewPanel(bus i2c.Bus, log *slog.Logger) *Panel { return &Panel{bus: bus, log: log} }

// Show takes the hub's word, which is so old; it does not wait.
func (p *Panel) Show(d telemetry.Display, age time.Duration) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.words, p.heard = d, time.Now().Add(-age)
}

// said is the hub's last word and its age.
func (p *Panel) said() (telemetry.Display, time.Duration) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.words, time.Since(p.heard)
}

// Run draws until ctx ends. A display that is not there, or lost, is looked for
// again; sampling never waits for it but for the length of a picture. One on a
// bus that hangs holds one goroutine until the process ends.
func (p *Panel) Run(ctx context.Context) error {
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		p.draw(ctx)
	}()
	<-ctx.Done()
	select {
	case <-ended:
	case <-time.After(step):
	}
	return nil
}

func (p *Panel) draw(ctx context.Context) {
	var device *ssd1306.Dev
	var begun, next time.Time
	trouble := ""
	beat := time.NewTicker(step)
	defer beat.Stop()
	for {
		now := time.Now()
		if !now.Before(next) {
			if device != nil && now.Sub(begun) >= restart {
				device = nil
			}
			var err error
			if device == nil {
				device, err = start(p.bus)
				begun = now
			}
			if err == nil {
				words, age := p.said()
				err = device.Draw(device.Bounds(), shifted(Picture(words, age), now), image.Point{})
			}
			trouble = p.tell(err, trouble)
			if err != nil { // the driver takes for drawn what it could not draw
				device, next = nil, now.Add(retry)
			}
		}
		select {
		case <-ctx.Done():
			return
		case <-beat.C:
		}
	}
}

// tell logs what goes wrong once, and that it is over.
func (p *Panel) tell(err error, before string) string {
	switch {
	case err != nil && err.Error() != before:
		p.log.Warn("the display shows nothing", "reason", err)
		return err.Error()
	case err == nil && before != "":
		p.log.Info("the display shows again")
		return ""
	}
	return before
}

func start(bus i2c.Bus) (*ssd1306.Dev, error) {
	device, err := ssd1306.NewI2C(bus, &ssd1306.DefaultOpts)
	if err == nil {
		err = device.SetContrast(dim)
	}
	if err != nil {
		return nil, fmt.Errorf("start the display at %s 0x3c: %w", bus, err)
	}
	return device, nil
}

// shifted moves a picture by a pixel, another way each minute, so that no pixel
// is lit for ever.
func shifted(picture *image.Gray, now time.Time) *image.Gray {
	n := int(now.Unix() / int64(shiftEvery.Seconds()) % 4)
	by := image.Pt(n&1, n>>1)
	moved := image.NewGray(picture.Bounds())
	draw.Draw(moved, picture.Bounds().Add(by), picture, image.Point{}, draw.Src)
	return moved
}
