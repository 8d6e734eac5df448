package display

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"strings"
	"time"
	"unicode"

	"golang.org/x/image/font"
	"golang.org/x/image/font/basicfont"
	"golang.org/x/image/math/fixed"
	"golang.org/x/text/unicode/norm"

	"recoat/internal/telemetry"
)

// The size of the display and of its letters, in pixels.
const (
	width, height = 128, 64
	letterWidth   = 7
	letterHeight  = 13
	lineLetters   = width / letterWidth
	// baseline is where letters stand below the top of their line.
	baseline = 11
)

// The tops of the three lines below the verdict.
var lineTops = [3]int{23, 36, 49}

// Silence is how old the hub's last word may be before the display says so in
// its place.
const Silence = 5 * time.Minute

// Picture draws what the hub said last, so long ago. Without a word, or with one
// too old, it says that instead: an old verdict must not stand as a new one.
func Picture(d telemetry.Display, age time.Duration) *image.Gray {
	picture := image.NewGray(image.Rect(0, 0, width, height))
	if d.At.IsZero() || age > Silence {
		big(picture, "NO WORD")
		lines(picture, "from the hub", since(d.At))
		return picture
	}
	big(picture, verdict(d.Verdict))
	if d.Alerts > 0 {
		badge(picture, d.Alerts)
	}
	what, when := coming(d.Next, d.At)
	lines(picture, margin(d.Margin), what, when)
	return picture
}

func since(at time.Time) string {
	if at.IsZero() {
		return "so far"
	}
	return "since " + at.Format("15:04")
}

// verdict is short enough for letters of twice the size.
func verdict(s string) string {
	switch s {
	case "fit":
		return "FIT"
	case "caution":
		return "CAUTION"
	case "unfit":
		return "NOT FIT"
	}
	return "UNKNOWN"
}

func margin(m *float64) string {
	if m == nil {
		return "dew margin ?"
	}
	return fmt.Sprintf("dew margin %.1f K", *m)
}

// coming is the two lines of what is ready next, and when: with its day, unless
// that is the day of now.
func coming(n *telemetry.Next, now time.Time) (what, when string) {
	if n == nil {
		return "no stage in sight", ""
	}
	hour := n.At.Format("15:04")
	if n.At.YearDay() != now.In(n.At.Location()).YearDay() {
		hour += n.At.Format(" Mon")
	}
	return fit(n.What, lineLetters), fit(n.Stage, lineLetters-len(hour)-1) + " " + hour
}

// fit cuts a name to n letters the display has: those without their accents.
func fit(s string, n int) string {
	var kept []rune
	for _, r := range norm.NFD.String(s) {
		switch {
		case unicode.Is(unicode.Mn, r):
			continue
		case r > unicode.MaxASCII || !unicode.IsPrint(r):
			r = '?'
		}
		kept = append(kept, r)
	}
	return strings.TrimSpace(string(kept[:min(n, len(kept))]))
}

func lines(picture *image.Gray, text ...string) {
	for i, s := range text {
		write(picture, 0, lineTops[i], s)
	}
}

// write puts text with its top left at a place.
func write(picture draw.Image, x, top int, text string) {
	d := font.Drawer{Dst: picture, Src: image.White, Face: basicfont.Face7x13, Dot: fixed.P(x, top+baseline)}
	d.DrawString(text)
}

// big writes one word along the top, twice as large.
func big(picture *image.Gray, word string) {
	small := image.NewGray(image.Rect(0, 0, width/2, letterHeight))
	write(small, 0, 0, word)
	for y := range 2 * letterHeight {
		for x := range width {
			if small.GrayAt(x/2, y/2).Y > 0 {
				picture.SetGray(x, y-2, color.Gray{Y: 0xFF})
			}
		}
	}
}

// badge puts the number of alerts at the top right, dark on light.
func badge(picture *image.Gray, n int) {
	text := fmt.Sprintf("!%d", min(n, 99))
	at := image.Rect(width-len(text)*letterWidth-4, 0, width, letterHeight+1)
	draw.Draw(picture, at, image.White, image.Point{}, draw.Src)
	d := font.Drawer{Dst: picture, Src: image.Black, Face: basicfont.Face7x13, Dot: fixed.P(at.Min.X+2, baseline)}
	d.DrawString(text)
}
