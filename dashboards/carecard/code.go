package carecard

import (
	"fmt"
	"image/color"
	"strings"

	"github.com/boombuler/barcode/qr"
)

// code is a QR code (ISO/IEC 18004) as one path over a grid, with the quiet zone
// of four modules that the standard asks for around it.
type code struct {
	Size int // of the grid, with the quiet zone
	Path string
}

const quietZone = 4

// encode makes the code of a text, with a quarter of it spare, for a card that
// gets a stain.
func encode(text string) (code, error) {
	grid, err := qr.Encode(text, qr.Q, qr.Unicode)
	if err != nil {
		return code{}, err
	}
	n := grid.Bounds().Dx()
	var path strings.Builder
	for y := range n {
		for x := range n {
			if color.GrayModel.Convert(grid.At(x, y)) == (color.Gray{}) {
				fmt.Fprintf(&path, "M%d %dh1v1h-1z", x+quietZone, y+quietZone)
			}
		}
	}
	return code{n + 2*quietZone, path.String()}, nil
}
