package emulated

import (
	"fmt"
	"image"
	"image/color"
)

// The size of an SSD1306's memory (Solomon Systech, SSD1306 datasheet rev 1.1,
// section 8.7): eight pages of 128 columns, each byte eight pixels one below the
// other, the lowest bit on top.
const (
	oledColumns = 128
	oledPages   = 8
	oledRows    = 8 * oledPages
)

// SSD1306 is an emulated display of 128 by 64 pixels, alone on a bus of its own.
type SSD1306 struct {
	part
	ram          [oledPages][oledColumns]byte
	page, column int
	on, pumped   bool
	inverse      bool
	remapped     bool // columns run from the right (command A1)
	upward       bool // rows run from the bottom (command C8)
	contrast     byte
	writes       int // bytes written into the memory
}

// NewSSD1306 returns a display at 0x3C, just powered on: dark.
func NewSSD1306() *SSD1306 {
	d := &SSD1306{part: part{kind: "ssd1306", addr: 0x3C}}
	d.tx = d.transact
	d.powerOn()
	return d
}

// BrownOut drops the supply for an instant: the display is dark until it is
// started again.
func (d *SSD1306) BrownOut() {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.powerOn()
}

func (d *SSD1306) powerOn() {
	for page := range d.ram {
		for column := range d.ram[page] {
			d.ram[page][column] = 0xA5 // what the memory holds then is anybody's guess
		}
	}
	d.page, d.column, d.on, d.pumped, d.inverse, d.remapped, d.upward, d.contrast = 0, 0, false, false, false, false, false, 0x7F
}

// oledArguments is how many bytes follow a command (section 9, tables 9-1 to
// 9-3); none where it is not listed.
var oledArguments = map[byte]int{
	0x20: 1, 0x21: 2, 0x22: 2, 0x26: 6, 0x27: 6, 0x29: 5, 0x2A: 5, 0x81: 1, 0x8D: 1, 0xA3: 2, 0xA8: 1,
	0xD3: 1, 0xD5: 1, 0xD9: 1, 0xDA: 1, 0xDB: 1,
}

// transact takes a control byte, 00 for commands and 40 for data, and what
// follows it (section 8.1.5.2).
func (d *SSD1306) transact(w, r []byte) error {
	switch {
	case len(r) > 0:
		return refused{"a read: the display shows, and says nothing"}
	case len(w) > 0 && w[0] == 0x40:
		d.fill(w[1:])
		return nil
	case len(w) > 0 && w[0] == 0x00:
		return d.commands(w[1:])
	}
	return refused{fmt.Sprintf("a control byte in % x", w)}
}

func (d *SSD1306) fill(data []byte) {
	for _, b := range data {
		d.ram[d.page][d.column] = b
		d.writes++
		if d.column++; d.column == oledColumns {
			d.column, d.page = 0, (d.page+1)%oledPages
		}
	}
}

func (d *SSD1306) commands(list []byte) error {
	for len(list) > 0 {
		c, n := list[0], oledArguments[list[0]]
		if len(list) <= n {
			return refused{fmt.Sprintf("command %#02x with %d of %d arguments", c, len(list)-1, n)}
		}
		d.command(c, list[1:1+n])
		list = list[1+n:]
	}
	return nil
}

// command carries out what changes the picture. The commands of the page
// addressing mode place the pointer in the other modes too, as the chips do.
func (d *SSD1306) command(c byte, arguments []byte) {
	switch {
	case c <= 0x0F:
		d.column = d.column&0xF0 | int(c)
	case c <= 0x1F:
		d.column = (d.column&0x0F | int(c&0x0F)<<4) % oledColumns
	case c >= 0xB0 && c <= 0xB7:
		d.page = int(c & 7)
	case c == 0x21:
		d.column = int(arguments[0]) % oledColumns
	case c == 0x22:
		d.page = int(arguments[0]) % oledPages
	case c == 0x81:
		d.contrast = arguments[0]
	case c == 0x8D:
		d.pumped = arguments[0]&4 != 0
	case c == 0xA0 || c == 0xA1:
		d.remapped = c == 0xA1
	case c == 0xA6 || c == 0xA7:
		d.inverse = c == 0xA7
	case c == 0xAE || c == 0xAF:
		d.on = c == 0xAF
	case c == 0xC0 || c == 0xC8:
		d.upward = c == 0xC8
	}
}

// Picture is what the display shows, as a person sees it with its pins on top.
// One that is off, or without its charge pump, is dark.
func (d *SSD1306) Picture() *image.Gray {
	d.mu.Lock()
	defer d.mu.Unlock()
	picture := image.NewGray(image.Rect(0, 0, oledColumns, oledRows))
	if !d.on || !d.pumped {
		return picture
	}
	for y := range oledRows {
		for x := range oledColumns {
			if lit := d.ram[y/8][x]>>(y%8)&1 == 1; lit != d.inverse {
				picture.SetGray(seen(x, d.remapped, oledColumns), seen(y, d.upward, oledRows), color.Gray{Y: 0xFF})
			}
		}
	}
	return picture
}

// seen turns a place in the memory into one on the glass: modules are mounted so
// that both counts run backwards unless they are turned.
func seen(at int, turned bool, n int) int {
	if turned {
		return at
	}
	return n - 1 - at
}

// Contrast is how bright the display is set, 0 to 255.
func (d *SSD1306) Contrast() byte {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.contrast
}

// Written counts the bytes of pictures that were sent.
func (d *SSD1306) Written() int {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.writes
}
