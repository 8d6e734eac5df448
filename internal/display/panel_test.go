package display

import (
	"bytes"
	"context"
	"image"
	"image/png"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"recoat/internal/telemetry"
	"recoat/sensors/emulated"
)

// evening is when the hub speaks, by the shop's clock.
var evening = time.Date(2026, 3, 1, 22, 3, 30, 0, time.FixedZone("", 3600))

func words() telemetry.Display {
	m := 3.4
	return telemetry.Display{
		At: evening, Verdict: "caution", Margin: &m, Alerts: 2,
		Next: &telemetry.Next{What: "Linen press, doors", Stage: "recoat", At: evening.Add(7*time.Hour + 37*time.Minute)},
	}
}

// pictures are everything that the display can be asked to show.
func pictures() map[string]*image.Gray {
	fit, unfit, calm, odd, negative := words(), words(), words(), words(), -12.3
	fit.Verdict, fit.Alerts = "fit", 0
	fit.Next.At = evening.Add(time.Hour)
	unfit.Verdict, unfit.Margin, unfit.Alerts = "unfit", &negative, 12
	calm.Verdict, calm.Margin, calm.Next, calm.Alerts = "unknown", nil, nil, 0
	odd.Next.What, odd.Next.Stage = "Sécrétaire à abattant, écritoire", "dust-free and more words"
	return map[string]*image.Gray{
		"caution": Picture(words(), 0), "fit": Picture(fit, 0), "unfit": Picture(unfit, 0), "unknown": Picture(calm, 0),
		"long": Picture(odd, 0), "silent": Picture(words(), time.Hour), "never": Picture(telemetry.Display{}, 0),
	}
}

// The pictures are those in testdata, which were looked at. RECOAT_PICTURES names
// a folder to write new ones to.
func TestPicturesAreAsTheyWereLookedAt(t *testing.T) {
	for name, picture := range pictures() {
		var b bytes.Buffer
		if err := png.Encode(&b, picture); err != nil {
			t.Fatal(err)
		}
		if folder := os.Getenv("RECOAT_PICTURES"); folder != "" {
			if err := os.WriteFile(filepath.Join(folder, "display-"+name+".png"), b.Bytes(), 0o600); err != nil {
				t.Fatal(err)
			}
		}
		f, err := os.Open(filepath.Join("testdata", name+".png"))
		if err != nil {
			t.Error(err)
			continue
		}
		want, err := png.Decode(f)
		_ = f.Close()
		if err != nil {
			t.Fatal(err)
		}
		if !same(picture, want) {
			t.Errorf("%s is another picture than testdata/%s.png", name, name)
		}
	}
}

func same(a, b image.Image) bool {
	for y := range height {
		for x := range width {
			ar, _, _, _ := a.At(x, y).RGBA()
			br, _, _, _ := b.At(x, y).RGBA()
			if ar != br {
				return false
			}
		}
	}
	return a.Bounds() == b.Bounds()
}

// shows reports whether the glass shows a picture, moved by a pixel at most.
func shows(d *emulated.SSD1306, want *image.Gray) bool {
	glass := d.Picture()
	for n := range 4 {
		if same(glass, shifted(want, time.Unix(int64(n)*60, 0))) {
			return true
		}
	}
	return false
}

// diary is a log that is read while it is written.
type diary struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (d *diary) Write(p []byte) (int, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.b.Write(p)
}

func (d *diary) String() string {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.b.String()
}

// running runs a panel over an emulated display for as long as the test.
func running(t *testing.T, test func(p *Panel, d *emulated.SSD1306, log *diary)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		bus, d, log := emulated.NewI2CBus("I2C1"), emulated.NewSSD1306(), &diary{}
		bus.Attach(0x3C, d)
		p := NewPanel(bus, slog.New(slog.NewTextHandler(log, nil)))
		ctx, cancel := context.WithCancel(t.Context())
		ended := make(chan error, 1)
		go func() { ended <- p.Run(ctx) }()
		test(p, d, log)
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
}

// From the words to the glass, by the bytes on the bus.
func TestTheGlassShowsWhatTheHubSaid(t *testing.T) {
	running(t, func(p *Panel, d *emulated.SSD1306, _ *diary) {
		time.Sleep(2 * step)
		if !shows(d, Picture(telemetry.Display{}, 0)) {
			t.Error("before the hub's first word")
		}
		p.Show(words(), 0)
		time.Sleep(2 * step)
		if !shows(d, Picture(words(), 0)) || d.Contrast() != dim {
			t.Errorf("after the hub's word, at a contrast of %d", d.Contrast())
		}
		time.Sleep(2 * Silence)
		if !shows(d, Picture(words(), time.Hour)) {
			t.Error("an old verdict stands as a new one")
		}
		p.Show(words(), time.Hour)
		time.Sleep(2 * step)
		if !shows(d, Picture(words(), time.Hour)) {
			t.Error("what a broker had kept for an hour stands as new")
		}
	})
}

// A display that lost its supply for an instant stays dark, and its driver, which
// sends only what has changed, would leave it so.
func TestADisplayThatWentDarkComesBack(t *testing.T) {
	running(t, func(p *Panel, d *emulated.SSD1306, _ *diary) {
		p.Show(words(), 0)
		time.Sleep(time.Minute)
		d.BrownOut()
		time.Sleep(restart + step)
		p.Show(words(), 0)
		time.Sleep(2 * step)
		if !shows(d, Picture(words(), 0)) {
			t.Error("it is still dark")
		}
	})
}

func TestADisplayThatIsNotThereIsToldOfOnceAndLookedForAgain(t *testing.T) {
	running(t, func(p *Panel, d *emulated.SSD1306, log *diary) {
		d.SetFaults(emulated.Faults{NoAnswer: true})
		time.Sleep(20 * time.Minute)
		if n := strings.Count(log.String(), "shows nothing"); n != 1 {
			t.Errorf("told %d times: %s", n, log)
		}
		d.SetFaults(emulated.Faults{})
		p.Show(words(), 0)
		time.Sleep(retry + step)
		if !shows(d, Picture(words(), 0)) || !strings.Contains(log.String(), "shows again") {
			t.Errorf("it is not back: %s", log)
		}
	})
}

// An hour without news costs the bus little: only the pixel's shift is drawn.
func TestThePanelDrawsSeldom(t *testing.T) {
	running(t, func(p *Panel, d *emulated.SSD1306, _ *diary) {
		time.Sleep(time.Hour)
		if n := d.Written(); n > 70*1024 {
			t.Errorf("%d bytes in an hour", n)
		}
	})
}

// A bus that hangs holds nobody up who stops the agent.
func TestABusThatHangsDoesNotKeepThePanel(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d, release := emulated.NewSSD1306(), make(chan struct{})
		d.SetFaults(emulated.Faults{Block: release})
		p := NewPanel(d, slog.New(slog.DiscardHandler))
		ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
		defer cancel()
		start := time.Now()
		if err := p.Run(ctx); err != nil || time.Since(start) > time.Minute+step {
			t.Errorf("%v after %s", err, time.Since(start))
		}
		close(release)
	})
}
